/* What this device keeps for its user: the jobs that were open last, and what was typed when one had to come in anew. And no answer that is stale. */
"use strict";
(() => {
  const JOBS = "tackroom.jobs", SENT = "tackroom.sent", MOST = 8;

  const read = (name, otherwise) => {
    try { return JSON.parse(localStorage.getItem(name)) ?? otherwise; } catch { return otherwise; }
  };
  const write = (name, value) => {
    try { localStorage.setItem(name, JSON.stringify(value)); } catch { /* a private window keeps nothing */ }
  };
  const link = (address, words) => Object.assign(document.createElement("a"), { href: address, textContent: words });

  function keepJob() {
    const bar = document.querySelector(".jobbar[data-query]");
    if (!bar) return;
    const job = { query: bar.dataset.query, name: bar.dataset.name };
    const others = read(JOBS, []).filter((known) => known.name !== job.name);
    write(JOBS, [job, ...others].slice(0, MOST));
  }

  function offerJobs() {
    const jobs = read(JOBS, []);
    const last = document.getElementById("device-job"), list = document.getElementById("recent");
    if (last && jobs.length && !list) {
      const line = document.createElement("p");
      line.append("Last open here: ", link(`/?${jobs[0].query}`, jobs[0].name));
      last.append(line);
      last.hidden = false;
    }
    if (list && jobs.length) {
      list.querySelector("ul").replaceChildren(...jobs.map((job) => {
        const row = document.createElement("li");
        row.append(link(`/?${job.query}`, job.name));
        return row;
      }));
      list.querySelector("button").addEventListener("click", () => { write(JOBS, []); list.hidden = true; });
      list.hidden = false;
    }
  }

  /* What was typed when one had to come in anew stands in its form again, once one has come back to it. */
  function keepTyped() {
    const keep = (sent) => sessionStorage.setItem(SENT, JSON.stringify(sent));
    const of = (form) => [form.getAttribute("action"), form.elements.event?.value ?? ""].join(" ");
    const typed = (e) => e.name && "value" in e && !["hidden", "file", "checkbox", "radio", "submit"].includes(e.type);
    const page = location.pathname + location.search;
    let sent = null;
    try { sent = JSON.parse(sessionStorage.getItem(SENT)); } catch { return; }
    if (document.querySelector("[data-typed]")) { if (sent) keep({ ...sent, refused: true }); return; }
    if (location.pathname === "/enter") return;
    sessionStorage.removeItem(SENT);
    for (const form of document.querySelectorAll("form[method=post]")) {
      form.addEventListener("submit", () => {
        keep({ page, form: of(form), fields: [...form.elements].filter(typed).map((e) => [e.name, e.value]) });
      });
      if (!sent?.refused || sent.page !== page || sent.form !== of(form)) continue;
      for (const [name, value] of sent.fields) if (form.elements[name]) form.elements[name].value = value;
      const folded = form.closest("details");
      if (folded) folded.open = true;
    }
  }

  /* The answer stands for the form above it, or it says that it doesn't. */
  function watchAnswer() {
    const form = document.getElementById("job"), answer = document.getElementById("answer");
    const summary = document.getElementById("summary");
    if (!form || !answer || !summary) return;
    const ours = (event) => event.detail?.elt === form;
    const box = summary.closest(".summary");
    form.addEventListener("input", () => { if (answer.children.length > 1) answer.classList.add("stale"); });
    form.addEventListener("htmx:beforeRequest", (event) => {
      if (!ours(event)) return;
      answer.setAttribute("aria-busy", "true");
      summary.textContent = "Working on the answer …";
    });
    form.addEventListener("htmx:afterSwap", () => box.classList.remove("lost"));
    document.body.addEventListener("htmx:afterSettle", () => {
      answer.removeAttribute("aria-busy");
      answer.classList.remove("stale");
    });
    const lost = (event) => {
      if (!ours(event)) return;
      answer.removeAttribute("aria-busy");
      answer.classList.remove("stale");
      const told = document.createElement("p");
      told.className = "said fault";
      told.append("No answer came. What stood here was for other entries, and is taken away. ");
      const again = Object.assign(document.createElement("button"), { type: "button", textContent: "Ask again" });
      again.addEventListener("click", () => htmx.trigger(form, "change"));
      told.append(again);
      if (event.detail.xhr?.status === 401) {
        const way = link("/enter", "Enter, and come back to these entries");
        way.addEventListener("click", () => {
          way.href = `/enter?next=${encodeURIComponent(`/?${new URLSearchParams(new FormData(form))}`)}`;
        });
        told.append(" ", way);
      }
      answer.replaceChildren(told);
      summary.textContent = "No answer: the server could not be reached, or failed.";
      box.classList.add("lost");
    };
    for (const name of ["htmx:responseError", "htmx:sendError", "htmx:timeout"]) form.addEventListener(name, lost);
  }

  /* The page that is open is in sight among those of its job, however narrow the screen. */
  for (const here of document.querySelectorAll("nav [aria-current=page]")) {
    const row = here.closest("ul");
    row.scrollLeft = here.offsetLeft - row.offsetLeft - (row.clientWidth - here.clientWidth) / 2;
  }

  keepJob();
  offerJobs();
  keepTyped();
  watchAnswer();
})();
