/* The bench run: one step a screen. All that happens is an event, kept on the device and sent until the server has it. */
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("run-data").textContent);
  const place = document.getElementById("run"), KEY = `tackroom.run.${data.run}`;
  /* So many waits are told above the step, the soonest first. */
  const RETRY_MS = 8000, MOST_TIMERS = 4, MOST_TYPED = 200, TWICE_MS = 400;
  const read = (name, otherwise) => {
    try { return JSON.parse(localStorage.getItem(name)) ?? otherwise; } catch { return otherwise; }
  };
  const store = (name, what) => {
    try { localStorage.setItem(name, JSON.stringify(what)); return true; } catch { return false; }
  };
  const own = read(KEY, { events: [], kept: [] });
  /* What was typed and isn't entered yet, by field: it outlives a reload. */
  const drafts = read(`${KEY}.typed`, {});
  const events = [...data.events];
  const known = new Set(events.map((event) => event.key));
  const kept = new Set([...own.kept, ...known]);
  for (const event of own.events) if (!known.has(event.key)) { events.push(event); known.add(event.key); }
  let message = "", again = null, answer = null, online = true, sending = false, rung = new Set(), early = null, shown = "", shownAt = -Infinity;

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

  const walk = benchWalk(data);
  const fold = () => walk.fold(events);
  /* Somebody who doesn't wait for the rest of a round: for the step that stands on the screen then. */
  let hurried = "";
  const roundOf = (task) => `${task.steps}|${task.installations}`;
  const next = (now) => {
    const found = walk.next(now, Date.now());
    return found.wait && hurried === roundOf(found.wait.task) ? walk.next(now, Date.now(), false) : found;
  };

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
    if (!store(KEY, { events: events.filter((e) => !kept.has(e.key)), kept: [...kept] })) {
      message = "This device keeps nothing: don't close the page before all is sent.";
    }
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
      /* The door stands there instead of the run: one has to come in anew, and comes back to it. */
      const shut = !(sent.headers.get("Content-Type") ?? "").includes("json");
      const said = shut ? { detail: "You are signed out. What you did is kept on this device." } : await sent.json();
      const here = location.pathname + location.search;
      again = shut ? ["Enter, and come back to this step", `/enter?${new URLSearchParams({ next: here })}`] : sent.status === 403 ? ["Load this step again", here] : null;
      if (sent.ok) {
        for (const key of said.kept) kept.add(key);
        for (const e of said.events) if (!known.has(e.key)) { events.push(e); known.add(e.key); }
        if (said.record || said.refused) answer = said;
        online = true;
        message = "";
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
    // A finger that comes down twice does not do the next step as well, whose button stands where this one stood.
    made.addEventListener("click", () => { if (performance.now() - shownAt >= TWICE_MS) act(); });
    return made;
  };
  const field = (id, words, props = {}) => {
    const fault = make("p", { id: `${id}-fault`, className: "fault", hidden: true });
    const input = make("input", { id, autocomplete: "off", maxLength: MOST_TYPED, ...props });
    if (drafts[id]) input.value = drafts[id];
    input.addEventListener("input", () => { drafts[id] = input.value; store(`${KEY}.typed`, drafts); right({ input, fault }); });
    return { input, fault, row: make("p", { className: "question" }, make("label", { htmlFor: id, textContent: words }), input, fault) };
  };
  /* What is wrong is said at its field, which gets the cursor; nothing that was typed is lost. */
  function wrong(one, words) {
    one.fault.textContent = words;
    one.fault.hidden = false;
    one.input.setAttribute("aria-invalid", "true");
    one.input.setAttribute("aria-describedby", one.fault.id);
    one.input.focus();
  }
  function right(one) {
    one.fault.hidden = true;
    one.input.removeAttribute("aria-invalid");
  }
  /* What was typed, or null, and then its field says what is missing. */
  function typed(one, missing) {
    const words = one.input.value.trim();
    if (!words) { wrong(one, missing); return null; }
    return words;
  }
  function forget(...fields) {
    for (const one of fields) delete drafts[one.input.id];
    store(`${KEY}.typed`, drafts);
  }
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

  /* The clocks that run, the soonest first; what started together stands in one line. */
  function tick() {
    const now = fold(), at = Date.now();
    const rows = [];
    const running = new Map();
    for (const [i, w] of [...now.waits].filter(([, each]) => each.end > at).sort(([, one], [, two]) => one.end - two.end)) {
      const alike = `${w.words}|${w.end}`;
      running.set(alike, { ...w, names: [...(running.get(alike)?.names ?? []), i] });
    }
    for (const w of [...running.values()].slice(0, MOST_TIMERS)) rows.push(`${gauges(w.names)}: ${w.words}, ${clock(w.end - at)}`);
    if (running.size > MOST_TIMERS) rows.push(`${running.size - MOST_TIMERS} more wait longer`);
    for (const [i, w] of now.waits) {
      if (w.end > at || rung.has(`${i}|${w.step}`)) continue;
      rung.add(`${i}|${w.step}`);
      if (at - w.end >= 60000) continue;
      ring();
      // A step that is being done stays as it is: what was typed in it would be gone.
      if (place.querySelector(".countdown")) show();
    }
    for (const pot of now.pots.values()) {
      const used = data.tasks.some((t) => t.steps.some((s) => data.steps[s].name === pot.name && data.steps[s].stage !== "cure") && walk.open(t, now).length);
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
    const rejected = Object.entries(now.failed).map(([i, why]) => `gauge ${i} (${why})`);
    if (rejected.length && !found.finished) parts.push(make("p", { className: "hint", textContent: `Rejected: ${rejected.join(", ")}.` }));
    if (message) {
      const way = again && make("a", { href: again[1], textContent: again[0] });
      parts.push(make("p", { className: "said fault", role: "alert" }, message, way ? " " : "", way));
    }
    if (!now.who) parts.push(begin());
    else if (answer?.record) parts.push(recorded(answer.record));
    else if (found.finished || now.ended) parts.push(ending(now));
    else if (found.wait) parts.push(waiting(found.wait));
    else parts.push(step(found, now));
    if (now.who && !answer?.record) parts.push(aside(now, found));
    place.replaceChildren(...parts);
    const screen = place.querySelector(".where, h2")?.textContent;
    if (shown && screen !== shown) place.scrollIntoView({ block: "start" });
    if (shown && screen !== shown) shownAt = performance.now();
    shown = screen;
    state();
    tick();
  }

  function begin() {
    const who = field("run-who", "Who does the work?", { value: read("tackroom.who", data.who === "unnamed" ? "" : data.who) });
    const count = new Set(data.tasks.flatMap((t) => t.installations)).size;
    const go = button("Start", () => {
      const name = typed(who, "Say who does the work.");
      if (name === null) return;
      forget(who);
      store("tackroom.who", name);
      happen("who", { who: name, value: data.first });
      history.replaceState(null, "", `/bench-run?${data.query}${data.query.includes("run=") ? "" : `&run=${data.run}`}`);
      show();
    });
    return make("section", { className: "step" }, make("h2", { textContent: `${count} gauge${count > 1 ? "s" : ""}, ${data.steps.length} steps` }), who.row, go);
  }

  function step({ task, left }, now) {
    const places = walk.toDo(task, left, now), whats = places.map((place) => data.steps[place]);
    const number = places.length > 1 ? `Steps ${places[0] + 1} to ${places.at(-1) + 1}` : `Step ${places[0] + 1}`;
    const box = make("section", { className: "step", ariaLabel: number });
    box.append(make("p", { className: "where", textContent: `${number} of ${data.steps.length} · ${whats[0].stage} · ${gauges(left)}` }));
    for (const what of whats) box.append(...told(what));
    for (const item of new Set(whats.map((what) => what.item))) box.append(...harm(item));
    const asks = whats.find((what) => what.asks_lot && data.lots[what.item] && !now.lotAsked.has(what.item));
    if (asks) return asksLot(box, asks);
    for (const what of new Map(whats.map((each) => [each.item, each])).values()) {
      if (!now.taken[what.item]) continue;
      box.append(make("p", { className: "hint" }, `Lot ${now.taken[what.item]} of ${what.name}. `, button("Another lot", () => asksLotAgain(what), true)));
    }
    if (whats.some((what) => what.asks_room) && now.roomDay !== local(Date.now()).slice(0, 10)) return asksRoom(box);
    // A task ends with its clock and with its measurement: both are the last step's.
    const last = whats.at(-1), checks = new Map();
    if (last.limit) for (const i of left) checks.set(i, measured(box, last.limit, places.at(-1), i));
    const finish = (some) => {
      const got = some.filter((i) => checks.has(i)).map((i) => [i, figure(checks.get(i).input)]);
      const missing = got.filter(([, value]) => value === null).map(([i]) => checks.get(i));
      for (const one of [...missing].reverse()) wrong(one, one.input.value.trim() ? "That is no number." : "Enter what was measured, as a number.");
      if (missing.length) return;
      const at = local(Date.now());
      for (const [i, value] of got) {
        happen("reading", { installations: [i], name: last.limit.quantity, value, at });
        const beyond = judge(last.limit, value);
        if (beyond) happen("fail", { installations: [i], note: `${last.limit.label}: ${beyond}`, at });
        forget(checks.get(i));
      }
      for (const place of places) happen("done", { step: place + 1, installations: some, at });
      show();
    };
    const clock = last.wait_s ? `: start the clock, ${last.wait}` : "";
    box.append(make("p", { className: "press" }, button(`${left.length > 1 ? `All ${left.length} done` : "Done"}${clock}`, () => finish(left))));
    // One mix, and one load of an oven, is for all of them.
    if (left.length > 1 && !task.whole && !whats.some((what) => what.pot_min)) {
      const each = left.map((i) => {
        const one = button(i, () => finish([i]), true);
        one.ariaLabel = `Gauge ${i} is done, it alone`;
        return one;
      });
      box.append(make("p", { className: "hint", textContent: last.wait_s ? "Or each as it is done, with a clock of its own:" : "Or each as it is done, with its own time:" }),
        make("p", { className: "choices each" }, ...each));
    }
    return box;
  }

  /* What to do, what must be and what must never be. */
  function told(what) {
    const lines = (name, words) => (words.length ? [make("ul", { className: name }, ...words.map((w) => make("li", {}, make("strong", { textContent: `${name}: ` }), w)))] : []);
    return [make("h2", { textContent: what.do }), ...lines("must", what.must), ...lines("never", what.never)];
  }

  /* "gauge 4", "gauges 1 to 9", "gauges 1, 2, 5". */
  function gauges(names) {
    const row = names.length > 2 && names.every((name, n) => Number(name) === Number(names[0]) + n);
    return `gauge${names.length > 1 ? "s" : ""} ${row ? `${names[0]} to ${names.at(-1)}` : names.join(", ")}`;
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

  function measured(box, limit, place, i) {
    const ends = [limit.at_least !== null ? `at least ${limit.at_least}` : "", limit.at_most !== null ? `at most ${limit.at_most}` : ""];
    const one = field(`read-${place}-${i}`, `Gauge ${i}: ${limit.label} (${ends.filter(Boolean).join(", ")})`);
    const said = make("output", { className: "judged" });
    const judged = () => {
      const value = figure(one.input), beyond = value === null ? "" : judge(limit, value);
      said.textContent = value === null ? "" : beyond ? `fails: ${beyond}. Reject this gauge.` : "passes";
      said.className = `judged ${beyond ? "bad" : ""}`;
    };
    one.input.addEventListener("input", judged);
    judged();
    one.row.append(said);
    box.append(one.row);
    return one;
  }

  function asksLot(box, what, instead = "") {
    const rows = data.lots[what.item];
    const scan = field(`lot-${what.item}`, `Lot of ${what.name}: scan its label, or type it`);
    const refused = make("p", { className: "said fault", role: "alert", hidden: true });
    const take = async () => {
      const mark = typed(scan, "Scan or type the lot first.");
      if (mark === null) return;
      const found = await looked(what.item, mark);
      if (!found.fit) {
        refused.textContent = `Not this one: ${found.said}`;
        refused.hidden = false;
        scan.input.select();
        return;
      }
      forget(scan);
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
    document.getElementById(`lot-${what.item}`).focus();
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

  function asksRoom(box) {
    const fields = [["air_temperature_c", "Air, degC"], ["relative_humidity_pct", "Relative humidity, %"], ["part_temperature_c", "The part, degC"]]
      .map(([name, words]) => [name, field(`room-${name}`, words)]);
    const told = make("div", { role: "status" });
    const judgeRoom = async () => {
      const values = fields.map(([name, one]) => [name, figure(one.input)]);
      const missing = fields.filter((_, n) => values[n][1] === null);
      for (const [, one] of [...missing].reverse()) wrong(one, one.input.value.trim() ? "That is no number." : "Measure it now, and enter it.");
      if (missing.length) { told.replaceChildren(); return; }
      const query = new URLSearchParams(data.query);
      for (const [name, v] of values) query.set(name, v);
      let found = { verdict: "not judged", said: ["No network: read the item's own sheet for its limits."], changes: [] };
      try {
        const said = await fetch(`/bench-run/room?${query}`);
        found = said.ok ? await said.json() : { verdict: "not judged", said: [(await said.json()).detail], changes: [] };
      } catch { online = false; state(); }
      const go = () => {
        for (const [name, v] of values) happen("room", { name, value: v });
        forget(...fields.map(([, one]) => one));
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
    const box = make("section", { className: "step" },
      make("p", { className: "where", textContent: `Nothing to do but wait: ${wait.words}, ${gauges(wait.left)}` }),
      make("p", { className: "countdown", dataset: { end: String(wait.end) } }),
      make("p", { textContent: `Then: ${data.steps[wait.task.steps[0]].do}` }));
    if (wait.ready.length) {
      box.append(make("p", {}, button(`Go on with ${gauges(wait.ready)} now`, () => { hurried = roundOf(wait.task); show(); }, true)));
    }
    if (early) {
      const why = field("early-why", "Why is it enough?");
      box.append(why.row, make("p", {}, button("Go on early (it is recorded)", () => {
        const words = typed(why, "Say why: it stands in the record.");
        if (words === null) return;
        forget(why);
        happen("early", { installations: wait.left, note: `wait cut short: ${words}` });
        early = null;
        show();
      }, true)));
    } else box.append(make("p", {}, button("Go on before it is over …", () => { early = true; show(); }, true)));
    return box;
  }

  function ending(now) {
    const all = [...new Set(data.tasks.flatMap((t) => walk.names(t, now)))].filter((i) => [...now.done.keys()].some((k) => k.endsWith(`|${i}`)));
    const asked = data.steps.filter((s) => s.limit).map((s) => s.limit.quantity);
    const box = make("section", { className: "step" }, make("h2", { textContent: "All is done. Write it down." }));
    const open = all.filter((i) => !(i in now.failed) && !(i in now.outcomes) && (asked.some((q) => !(q in (now.readings[i] ?? {})))));
    box.append(make("ul", {}, ...all.map((i) => make("li", { textContent: `gauge ${i}: ${i in now.failed ? `fails: ${now.failed[i]}` : now.outcomes[i] ?? (open.includes(i) ? "not all was measured" : "passes")}` }))));
    for (const i of open) {
      box.append(make("p", { className: "choices" }, `Gauge ${i}: `, button("pass", () => { happen("outcome", { installations: [i], note: "pass" }); show(); }, true),
        button("fail", () => { happen("outcome", { installations: [i], note: "fail" }); show(); }, true)));
    }
    if (answer?.refused) box.append(make("p", { className: "said fault", role: "alert", textContent: `Not recorded: ${answer.refused}.` }));
    if (now.ended && !answer) box.append(make("p", { role: "status", textContent: "The record is written as soon as the server has it." }));
    else if (answer?.barred) {
      const why = field("run-anyway", "It was used: why it is recorded all the same");
      box.append(why.row, make("p", { className: "press" }, button("Write the record with that reason", () => {
        const words = typed(why, "Say why: it stands in the record.");
        if (words === null) return;
        forget(why);
        answer = null;
        happen("anyway", { note: words });
        show();
      })));
    } else if (!open.length) {
      const parts = partsOf(all, now);
      box.append(...parts.map(({ one }) => one.row), make("p", { className: "press" }, button("Write the record", () => {
        answer = null;
        for (const { some, one } of parts) if (one.input.value.trim()) happen("part", { installations: some, note: one.input.value.trim() });
        forget(...parts.map(({ one }) => one));
        happen("end");
        show();
      })));
    }
    return box;
  }

  /* A field for each part of the run: so many gauges sit on one, as the job says. */
  function partsOf(all, now) {
    const found = new Map();
    for (const i of all) {
      const place = Math.floor((Number(i) - now.base) / data.gauges_per_part);
      found.set(place, [...(found.get(place) ?? []), i]);
    }
    return [...found.values()].map((some) => ({ some, one: field(`run-part-${some[0]}`, `Part, serial number${found.size > 1 ? `: ${gauges(some)}` : ""}`) }));
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
      const name = typed(who, "Say who goes on.");
      if (name === null) return;
      forget(who);
      happen("who", { who: name });
      show();
    }, true)), make("p", { className: "hint", textContent: "On another device: open this page's address there." }));
    const note = field("run-note", "What happened (an interruption, something seen)");
    const left = found.left ?? found.wait?.left ?? [];
    const which = make("select", { id: "run-reject", ariaLabel: "Which gauge" }, ...left.map((i) => make("option", { value: i, textContent: `gauge ${i}` })));
    const noted = (act) => {
      const words = typed(note, "Say what happened first.");
      if (words === null) return;
      forget(note);
      act(words);
      show();
    };
    box.append(note.row, make("p", { className: "choices" }, button("Note it", () => noted((words) => happen("note", { note: words })), true)));
    if (left.length) {
      box.append(make("p", { className: "choices" }, left.length > 1 ? which : "", button(left.length > 1 ? "Reject this gauge" : `Reject gauge ${left[0]}`,
        () => noted((words) => happen("fail", { installations: [which.value], note: words })), true)));
    }
    if (now.last.length) {
      box.append(make("p", {}, button("Take the last step back", () => { for (const e of now.last) happen("undo", { note: e.key }); show(); }, true)));
    }
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
