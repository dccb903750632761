/* What the events of a bench run come to, and what comes next: the same as kb/work/walk.py says, without the network. */
"use strict";
const benchWalk = (data) => {
  const names = (task, now) => task.installations.map((i) => String(now.base + i - 1));
  const done = (step, name, now) => now.done.has(`${step + 1}|${name}`);
  const open = (task, now) => names(task, now).filter((i) => !(i in now.failed) && task.steps.some((s) => !done(s, i, now)));

  /* What the events come to. */
  function fold(events) {
    const now = { who: "", base: data.first, done: new Map(), waits: new Map(), pots: new Map(), taken: {}, room: {}, roomDay: "",
      readings: {}, failed: {}, outcomes: {}, lotAsked: new Set(), ended: false, last: [] };
    const undone = new Set(events.filter((e) => e.kind === "undo").map((e) => e.note));
    for (const e of events) {
      if (undone.has(e.key) || e.kind === "undo") continue;
      const at = Date.parse(e.at);
      if (e.kind === "who") { now.who = e.who; if (e.value) now.base = e.value; }
      if (e.kind === "lot") { now.taken[e.item] = e.lot; now.lotAsked.add(e.item); }
      if (e.kind === "room") { now.room[e.name] = e.value; now.roomDay = e.at.slice(0, 10); }
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
        // What was told with one press is taken back with one.
        const same = step.at_once && now.last.length && now.last[0].at === e.at && String(now.last[0].installations) === String(e.installations);
        now.last = same ? [...now.last, e] : [e];
      }
    }
    return now;
  }

  /* Until when some keep the others waiting; null where one of them doesn't wait, or too long. */
  function soon(some, waits, at) {
    if (!some.length || !some.every(waits)) return null;
    const last = some.map(waits).reduce((a, b) => (b.end > a.end ? b : a));
    return last.end - at <= data.patience_s * 1000 ? last : null;
  }

  /* The first task that can be done now, and by whom; without one, when the next wait ends. Those of a round wait a
     little for its last, and nothing else is begun while a thumb presses or a bare surface dries; not when somebody is
     impatient. */
  function next(now, at, patient = true) {
    const waits = (i) => (now.waits.has(i) && now.waits.get(i).end > at ? now.waits.get(i) : null);
    const todo = data.tasks.map((task) => ({ task, left: open(task, now) })).filter(({ left }) => left.length);
    for (const { task, left } of patient ? todo : []) {
      const come = left.every((i) => task.steps[0] === 0 || done(task.steps[0] - 1, i, now));
      const last = task.attended && come ? soon(left.filter(waits), waits, at) : null;
      if (last) return { wait: { ...last, task, left, ready: left.filter((i) => !waits(i)) } };
    }
    const held = new Set();
    let soonest = null;
    for (const { task, left } of todo) {
      const ready = left.filter((i) => !waits(i) && !held.has(i)), rest = left.filter((i) => !ready.includes(i));
      let wait = null;
      if (ready.length && !(rest.length && task.whole)) {
        const last = patient ? soon(rest, waits, at) : null;
        if (!last) return { task, left: ready };
        wait = { ...last, ready };
      } else {
        wait = left.map(waits).filter(Boolean).reduce((a, b) => (a && a.end <= b.end ? a : { ...b, ready: [] }), null);
      }
      if (wait && (!soonest || wait.end < soonest.end)) soonest = { ...wait, task, left };
      for (const i of left) held.add(i);
    }
    return soonest ? { wait: soonest } : { finished: true };
  }

  /* The steps of a task that are still to be done for somebody. */
  const toDo = (task, left, now) => task.steps.filter((s) => left.some((i) => !done(s, i, now)));

  return { names, open, fold, next, toDo };
};
