/* The bench run: one step a screen. All that happens is an event, kept on the device and sent until the server has it. */
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("run-data").textContent);
  const place = document.getElementById("run"), KEY = `tackroom.run.${data.run}`;
  /* So many waits are told above the step, the soonest first. */
  const RETRY_MS = 8000, MOST_TIMERS = 4;
  const read = (name, otherwise) => {
    try { return JSON.parse(localStorage.getItem(name)) ?? otherwise; } catch { return otherwise; }
  };
  const own = read(KEY, { events: [], kept: [] });
  const events = [...data.events];
  const known = new Set(events.map((event) => event.key));
  const kept = new Set([...own.kept, ...known]);
  for (const event of own.events) if (!known.has(event.key)) { events.push(event); known.add(event.key); }
  let message = "", answer = null, online = true, sending = false, rung = new Set(), early = null, shown = "";

  const pad = (n) => String(n).padStart(2, "0");
  const local = (ms) => {
    const d = new Date(ms);
    const day = `${d.getFullYear()}-${pad(d.getMonth() + 1)}-${pad(d.getDate())}`;
    return `${day}T${pad(d.getHours())}:${pad(d.getMinutes())}:${pad(d.getSeconds())}`;
  };
  const clock = (ms) => {
    const s = Math.max(0, Math.ceil(ms / 1000));
    return s >= 3600 ? `${Math.floor(s / 3600)}:${pad(Math.floor(s / 60) % 60)}:${pad(s % 60)}` : `${Math.floor(s / 60)}:${pad(s % 60)}`;
  };

  /* What the events come to. */
  function fold() {
    const now = { who: "", base: data.first, done: new Map(), waits: new Map(), pots: new Map(), taken: {}, room: {},
      readings: {}, failed: {}, outcomes: {}, lotAsked: new Set(), ended: false, last: null };
    const undone = new Set(events.filter((e) => e.kind === "undo").map((e) => e.note));
    for (const e of events) {
      if (undone.has(e.key) || e.kind === "undo") continue;
      const at = Date.parse(e.at);
      if (e.kind === "who") { now.who = e.who; if (e.value) now.base = e.value; }
      if (e.kind === "lot") { now.taken[e.item] = e.lot; now.lotAsked.add(e.item); }
      if (e.kind === "room") now.room[e.name] = e.value;
      if (e.kind === "reading") for (const i of e.installations) (now.readings[i] ??= {})[e.name] = e.value;
      if (e.kind === "fail") for (const i of e.installations) now.failed[i] = e.note;
      if (e.kind === "outcome") for (const i of e.installations) now.outcomes[i] = e.note;
      if (e.kind === "early") for (const i of e.installations) now.waits.delete(i);
      if (e.kind === "end") now.ended = true;
      if (e.kind === "done") {
        const step = data.steps[e.step - 1];
        for (const i of e.installations) {
          now.done.set(`${e.step}|${i}`, at);
          if (step.wait_s) now.waits.set(i, { end: at + step.wait_s * 1000, step: e.step, words: step.wait_for || step.stage });
        }
        if (step.pot_min) now.pots.set(step.item, { name: step.name, end: at + step.pot_min * 60000 });
        now.last = e;
      }
    }
    return now;
  }

  const names = (task, now) => task[1].map((i) => String(now.base + i - 1));
  const open = (task, now) => names(task, now).filter((i) => !(i in now.failed) && !now.done.has(`${task[0] + 1}|${i}`));

  /* The first task that can be done now; without one, when the next wait ends. */
  function next(now) {
    const held = new Set(), at = Date.now();
    let soonest = null;
    for (const task of data.tasks) {
      const left = open(task, now);
      if (!left.length) continue;
      const waiting = left.map((i) => now.waits.get(i)).filter((w) => w && w.end > at);
      if (!waiting.length && !left.some((i) => held.has(i))) return { task, left };
      for (const w of waiting) if (!soonest || w.end < soonest.end) soonest = { ...w, task, left };
      for (const i of left) held.add(i);
    }
    return soonest ? { wait: soonest } : { finished: true };
  }

  function happen(kind, more = {}) {
    const now = fold();
    const key = crypto.getRandomValues(new Uint32Array(3)).join("-");
    events.push({ key, kind, at: local(Date.now()), who: more.who || now.who || data.who, ...more });
    known.add(key);
    save();
    void send();
    return key;
  }
  function save() {
    try {
      localStorage.setItem(KEY, JSON.stringify({ events: events.filter((e) => !kept.has(e.key)), kept: [...kept] }));
    } catch { message = "This device keeps nothing: don't close the page before all is sent."; }
  }

  async function send() {
    const waiting = events.filter((e) => !kept.has(e.key));
    if (sending || !waiting.length) return;
    sending = true;
    const before = message;
    try {
      const sent = await fetch(`/bench-run?${data.query}`, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Session-Token": place.dataset.token },
        body: JSON.stringify({ run: data.run, events: waiting.slice(0, 400) }),
      });
      const said = await sent.json();
      if (sent.ok) {
        for (const key of said.kept) kept.add(key);
        for (const e of said.events) if (!known.has(e.key)) { events.push(e); known.add(e.key); }
        if (said.record || said.refused) answer = said;
        online = true;
        save();
      } else { message = said.detail; online = true; }
    } catch { online = false; }
    sending = false;
    state();
    if (answer || message !== before) show();
    if (online && events.some((e) => !kept.has(e.key)) && !message) void send();
  }

  /* -- what is seen */
  const make = (tag, props = {}, ...inner) => {
    const { dataset, ...rest } = props;
    const made = Object.assign(document.createElement(tag), rest);
    Object.assign(made.dataset, dataset);
    made.append(...inner.filter((part) => part !== null && part !== undefined && part !== ""));
    return made;
  };
  const button = (words, act, quiet = false) => {
    const made = make("button", { type: "button", textContent: words, className: quiet ? "quiet" : "go" });
    made.addEventListener("click", act);
    return made;
  };
  const field = (id, words, props = {}) => {
    const input = make("input", { id, autocomplete: "off", ...props });
    return { input, row: make("p", { className: "question" }, make("label", { htmlFor: id, textContent: words }), input) };
  };
  const figure = (input) => {
    const typed = input.value.trim().replace("\u2212", "-").replace(",", ".");
    return typed !== "" && Number.isFinite(Number(typed)) ? Number(typed) : null;
  };

  function state() {
    const line = place.querySelector(".state");
    if (!line) return;
    const waiting = events.filter((e) => !kept.has(e.key)).length;
    line.textContent = waiting ? `${waiting} kept on this device${online ? ", being sent" : ": no network, sent when it is back"}` : "All is kept.";
  }

  function tick() {
    const now = fold(), at = Date.now();
    const rows = [];
    const running = [...now.waits].filter(([, w]) => w.end > at).sort(([, a], [, b]) => a.end - b.end);
    for (const [i, w] of running.slice(0, MOST_TIMERS)) rows.push(`gauge ${i}: ${w.words}, ${clock(w.end - at)}`);
    if (running.length > MOST_TIMERS) rows.push(`${running.length - MOST_TIMERS} more wait longer`);
    for (const [i, w] of now.waits) {
      if (w.end > at || rung.has(`${i}|${w.step}`)) continue;
      rung.add(`${i}|${w.step}`);
      if (at - w.end >= 60000) continue;
      ring();
      // A step that is being done stays as it is: what was typed in it would be gone.
      if (place.querySelector(".countdown")) show();
    }
    for (const pot of now.pots.values()) {
      const used = data.tasks.some((t) => data.steps[t[0]].name === pot.name && data.steps[t[0]].stage !== "cure" && open(t, now).length);
      if (used) rows.push(pot.end > at ? `cup of ${pot.name}: ${clock(pot.end - at)} left` : `cup of ${pot.name}: ITS TIME IS OVER, throw it away`);
    }
    const timers = place.querySelector(".timers");
    if (timers) timers.replaceChildren(...rows.map((row) => make("li", { textContent: row, className: row.includes("OVER") ? "over" : "" })));
    const big = place.querySelector(".countdown");
    if (big) big.textContent = clock(Number(big.dataset.end) - at);
  }
  function ring() {
    try {
      const sound = new AudioContext(), tone = sound.createOscillator();
      tone.connect(sound.destination);
      tone.start();
      tone.stop(sound.currentTime + 0.4);
      navigator.vibrate?.(400);
    } catch { /* no sound where none is allowed */ }
  }

  function show() {
    const now = fold(), found = next(now);
    const parts = [make("p", { className: "state" }), make("ul", { className: "timers" })];
    if (message) parts.push(make("p", { className: "said fault", role: "alert", textContent: message }));
    if (!now.who) parts.push(begin());
    else if (answer?.record) parts.push(recorded(answer.record));
    else if (found.finished || now.ended) parts.push(ending(now));
    else if (found.wait) parts.push(waiting(found.wait));
    else parts.push(step(found, now));
    if (now.who && !answer?.record) parts.push(aside(now, found));
    place.replaceChildren(...parts);
    const screen = place.querySelector(".where, h2")?.textContent;
    if (shown && screen !== shown) place.scrollIntoView({ block: "start" });
    shown = screen;
    state();
    tick();
  }

  function begin() {
    const who = field("run-who", "Who does the work?", { value: read("tackroom.who", data.who === "unnamed" ? "" : data.who) });
    const count = new Set(data.tasks.flatMap((t) => t[1])).size;
    const go = button("Start", () => {
      if (!who.input.value.trim()) { message = "Say who does the work."; show(); return; }
      message = "";
      localStorage.setItem("tackroom.who", JSON.stringify(who.input.value.trim()));
      happen("who", { who: who.input.value.trim(), value: data.first });
      history.replaceState(null, "", `/bench-run?${data.query}${data.query.includes("run=") ? "" : `&run=${data.run}`}`);
      show();
    });
    return make("section", { className: "step" }, make("h2", { textContent: `${count} gauge${count > 1 ? "s" : ""}, ${data.steps.length} steps` }), who.row, go);
  }

  function step({ task, left }, now) {
    const what = data.steps[task[0]], number = task[0] + 1;
    const which = left.length > 6 ? `${left.length} gauges` : `gauge${left.length > 1 ? "s" : ""} ${left.join(", ")}`;
    const box = make("section", { className: "step", ariaLabel: `Step ${number}` });
    box.append(make("p", { className: "where", textContent: `Step ${number} of ${data.steps.length} · ${what.stage} · ${which}` }),
      make("h2", { textContent: what.do }));
    if (what.must.length) box.append(make("ul", { className: "must" }, ...what.must.map((m) => make("li", {}, make("strong", { textContent: "must: " }), m))));
    if (what.never.length) box.append(make("ul", { className: "never" }, ...what.never.map((n) => make("li", {}, make("strong", { textContent: "never: " }), n))));
    box.append(...harm(what.item));
    const checks = [];
    if (what.asks_lot && data.lots[what.item] && !now.lotAsked.has(what.item)) return asksLot(box, what);
    if (now.taken[what.item]) {
      box.append(make("p", { className: "hint" }, `Lot ${now.taken[what.item]} of ${what.name}. `, button("Another lot", () => asksLotAgain(what), true)));
    }
    if (what.asks_room && !("air_temperature_c" in now.room)) return asksRoom(box, now);
    if (what.limit) for (const i of left) checks.push([i, measured(box, what.limit, i)]);
    box.append(make("p", { className: "press" }, button(what.wait_s ? `Done: start the clock, ${what.wait}` : "Done", () => {
      const got = checks.map(([i, one]) => [i, figure(one.input)]);
      if (got.some(([, value]) => value === null)) { message = "Enter what was measured, as a number."; show(); return; }
      message = "";
      for (const [i, value] of got) {
        happen("reading", { installations: [i], name: what.limit.quantity, value });
        const beyond = judge(what.limit, value);
        if (beyond) happen("fail", { installations: [i], note: `${what.limit.label}: ${beyond}` });
      }
      happen("done", { step: number, installations: left });
      show();
    })));
    return box;
  }

  /* The signs and words of what a material can do, as they stand in the list below. */
  function harm(item) {
    const told = item && document.getElementById(`harm-${item}`);
    const found = told ? [...told.querySelectorAll("svg, span")] : [];
    return found.length ? [make("p", { className: "harm" }, ...found.map((each) => each.cloneNode(true)))] : [];
  }

  /* A deviation counts whichever way it goes, as in the record. */
  const judge = (limit, value) => {
    if (limit.at_most !== null && Math.abs(value) > limit.at_most) return `${value} ${limit.unit}, at most ${limit.at_most}`;
    if (limit.at_least !== null && value < limit.at_least) return `${value} ${limit.unit}, at least ${limit.at_least}`;
    return "";
  };

  function measured(box, limit, i) {
    const ends = [limit.at_least !== null ? `at least ${limit.at_least}` : "", limit.at_most !== null ? `at most ${limit.at_most}` : ""];
    const one = field(`read-${i}`, `Gauge ${i}: ${limit.label} (${ends.filter(Boolean).join(", ")})`);
    const said = make("output", { className: "judged" });
    one.input.addEventListener("input", () => {
      const value = figure(one.input), beyond = value === null ? "" : judge(limit, value);
      said.textContent = value === null ? "" : beyond ? `fails: ${beyond}. Reject this gauge.` : "passes";
      said.className = `judged ${beyond ? "bad" : ""}`;
    });
    one.row.append(said);
    box.append(one.row);
    return one;
  }

  function asksLot(box, what, instead = "") {
    const rows = data.lots[what.item];
    const scan = field("lot", `Lot of ${what.name}: scan its label, or type it`);
    const refused = make("p", { className: "said fault", role: "alert", hidden: true });
    const take = async () => {
      const typed = scan.input.value.trim();
      if (!typed) return;
      const found = await looked(what.item, typed);
      if (!found.fit) {
        refused.textContent = `Not this one: ${found.said}`;
        refused.hidden = false;
        scan.input.select();
        return;
      }
      happen("lot", { item: what.item, lot: found.lot, note: instead });
      show();
    };
    scan.input.addEventListener("keydown", (event) => { if (event.key === "Enter") void take(); });
    const offered = rows.filter((row) => row.fit).slice(0, 3).map((row) =>
      button(`${row.lot}, ${row.said}`, () => { scan.input.value = row.lot; void take(); }, true));
    box.append(make("h3", { textContent: "Which lot?" }), scan.row, refused, make("p", { className: "press" }, button("Take it", take)),
      make("p", { className: "choices" }, ...offered));
    if (!offered.length) {
      box.append(make("p", {}, "The shelf has no lot of it that may be used. ", button("Go on without one (it is recorded)", () => {
        happen("lot", { item: what.item, lot: "", note: instead });
        happen("note", { note: `${what.name}: no lot was named` });
        show();
      }, true)));
    }
    return box;
  }
  function asksLotAgain(what) {
    const box = make("section", { className: "step" }, make("h2", { textContent: what.name }));
    place.querySelector(".step").replaceWith(asksLot(box, what));
    document.getElementById("lot").focus();
  }
  /* Whether a lot is fit: the server knows best; without it, what the shelf was when the run was opened. */
  async function looked(item, typed) {
    try {
      const said = await fetch(`/bench-run/lot?${new URLSearchParams({ item, code: typed })}`);
      if (said.ok) return await said.json();
    } catch { online = false; state(); }
    const mark = decodeURIComponent(typed.replace(/^.*\/shelf\/lots\//, "").replace(/^tackroom:lot\//, ""));
    const here = data.lots[item].find((row) => row.lot === mark);
    if (here) return here;
    const other = Object.entries(data.lots).find(([, rows]) => rows.some((row) => row.lot === mark));
    return { lot: mark, fit: false, said: other ? `${mark} is another item: the wrong thing` : `${mark} is not known on this device, and there is no network` };
  }

  function asksRoom(box, now) {
    const fields = [["air_temperature_c", "Air, degC"], ["relative_humidity_pct", "Relative humidity, %"], ["part_temperature_c", "The part, degC"]]
      .map(([name, words]) => [name, field(`room-${name}`, words)]);
    const told = make("div", { role: "status" });
    const judgeRoom = async () => {
      const values = fields.map(([name, one]) => [name, figure(one.input)]);
      if (values.some(([, v]) => v === null)) { told.replaceChildren(make("p", { className: "said fault", textContent: "Measure all three now." })); return; }
      const query = new URLSearchParams(data.query);
      for (const [name, v] of values) query.set(`bench.${name}`, v);
      let found = { verdict: "not judged", said: ["No network: read the item's own sheet for its limits."], changes: [] };
      try {
        const said = await fetch(`/bench-run/room?${query}`);
        found = said.ok ? await said.json() : { verdict: "not judged", said: [(await said.json()).detail], changes: [] };
      } catch { online = false; state(); }
      const go = () => {
        for (const [name, v] of values) happen("room", { name, value: v });
        if (found.verdict !== "go") happen("note", { note: `bonded though the room said ${found.verdict}` });
        show();
      };
      told.replaceChildren(make("p", {}, make("strong", { className: `verdict big ${found.verdict}`, textContent: found.verdict.toUpperCase() })),
        make("ul", {}, ...[...found.said, ...found.changes].map((line) => make("li", { textContent: line }))),
        found.verdict === "go" ? button("Go on", go) : make("p", {}, "Put it right and measure again; or ", button("go on all the same (it is recorded)", go, true)));
    };
    box.append(make("h3", { textContent: "The room decides now: measure it" }), ...fields.map(([, one]) => one.row), make("p", { className: "press" }, button("Judge the room", judgeRoom)), told);
    return box;
  }

  function waiting(wait) {
    const which = wait.left.join(", ");
    const box = make("section", { className: "step" },
      make("p", { className: "where", textContent: `Nothing to do but wait: ${wait.words}, gauge ${which}` }),
      make("p", { className: "countdown", dataset: { end: String(wait.end) } }),
      make("p", { textContent: `Then: ${data.steps[wait.task[0]].do}` }));
    if (early) {
      const why = field("early-why", "Why is it enough?");
      box.append(why.row, make("p", {}, button("Go on early (it is recorded)", () => {
        if (!why.input.value.trim()) return;
        happen("early", { installations: wait.left, note: `wait cut short: ${why.input.value.trim()}` });
        early = null;
        show();
      }, true)));
    } else box.append(make("p", {}, button("Go on before it is over …", () => { early = true; show(); }, true)));
    return box;
  }

  function ending(now) {
    const all = [...new Set(data.tasks.flatMap((t) => names(t, now)))].filter((i) => [...now.done.keys()].some((k) => k.endsWith(`|${i}`)));
    const asked = data.steps.filter((s) => s.limit).map((s) => s.limit.quantity);
    const box = make("section", { className: "step" }, make("h2", { textContent: "All is done. Write it down." }));
    const open = all.filter((i) => !(i in now.failed) && !(i in now.outcomes) && (asked.some((q) => !(q in (now.readings[i] ?? {})))));
    box.append(make("ul", {}, ...all.map((i) => make("li", { textContent: `gauge ${i}: ${i in now.failed ? `fails: ${now.failed[i]}` : now.outcomes[i] ?? (open.includes(i) ? "not all was measured" : "passes")}` }))));
    for (const i of open) {
      box.append(make("p", { className: "choices" }, `Gauge ${i}: `, button("pass", () => { happen("outcome", { installations: [i], note: "pass" }); show(); }, true),
        button("fail", () => { happen("outcome", { installations: [i], note: "fail" }); show(); }, true)));
    }
    if (answer?.refused) box.append(make("p", { className: "said fault", role: "alert", textContent: `Not recorded: ${answer.refused}` }));
    const part = field("run-part", "Part, serial number");
    if (!open.length) box.append(part.row, make("p", { className: "press" }, button("Write the record", () => { answer = null; happen("end", { note: part.input.value.trim() }); show(); })));
    if (now.ended && !answer) box.append(make("p", { role: "status", textContent: "The record is written as soon as the server has it." }));
    return box;
  }

  function recorded(record) {
    const rows = record.installations.map((one) => make("li", { textContent: `gauge ${one.installation}: ${one.outcome}${one.why ? ` (${one.why})` : ""}` }));
    const link = make("a", { href: `/trace?${new URLSearchParams({ of: data.job, done: record.id })}`, textContent: "See it" });
    return make("section", { className: "step" }, make("h2", { textContent: `Record ${record.id} is written.` }), make("ul", {}, ...rows), make("p", {}, link));
  }

  function aside(now, found) {
    const box = make("details", {}, make("summary", { textContent: `More: ${now.who} at work` }));
    const who = field("next-who", "Hand over to");
    box.append(who.row, make("p", {}, button("Hand over", () => {
      if (!who.input.value.trim()) return;
      happen("who", { who: who.input.value.trim() });
      show();
    }, true)), make("p", { className: "hint", textContent: "On another device: open this page's address there." }));
    const note = field("run-note", "What happened (an interruption, something seen)");
    box.append(note.row, make("p", { className: "choices" },
      button("Note it", () => { if (note.input.value.trim()) { happen("note", { note: note.input.value.trim() }); show(); } }, true),
      found.left ? button(`Reject gauge ${found.left.join(", ")}`, () => {
        if (note.input.value.trim()) { happen("fail", { installations: found.left, note: note.input.value.trim() }); show(); }
      }, true) : ""));
    if (now.last) box.append(make("p", {}, button("Take the last step back", () => { happen("undo", { note: now.last.key }); show(); }, true)));
    return box;
  }

  document.getElementById("run-plain").hidden = true;
  place.hidden = false;
  show();
  void send();
  setInterval(tick, 1000);
  setInterval(() => void send(), RETRY_MS);
  addEventListener("online", () => void send());
})();
