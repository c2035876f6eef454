"use strict";
// Hushtally review: keys, film, and changes without leaving the page. Without it, forms still work.
(() => {
  const one = (selector, from = document) => from.querySelector(selector);
  const all = (selector, from = document) => [...from.querySelectorAll(selector)];
  const words = JSON.parse(document.documentElement.dataset.words);
  const fill = (text, ...values) => values.reduce((filled, value) => filled.replace("{}", () => value), text);
  const say = (text, alarm = false) => {
    const status = one("#status");
    if (!status) return;
    status.className = alarm ? "alarm" : "";
    status.textContent = text;
  };

  // --- Tables, as cards on a phone: every cell knows its column, and a row stays a row ------
  for (const table of all("table.list")) {
    const heads = all("thead th", table).map((head) => head.textContent);
    table.classList.add("cards");
    table.setAttribute("role", "table");
    for (const row of all("tr", table)) row.setAttribute("role", "row");
    for (const head of all("thead th", table)) head.setAttribute("role", "columnheader");
    for (const head of all("tbody th", table)) head.setAttribute("role", "rowheader");
    for (const cell of all("td", table)) {
      cell.setAttribute("role", "cell");
      cell.dataset.name = heads[cell.cellIndex];
    }
  }

  // --- Film ---------------------------------------------------------------------------------
  const speeds = [0.1, 0.25, 0.5, 1];
  const film = {
    a: one("#film-a"), b: one("#film-b"), speed: 1, frame: 1 / 30, marks: {}, track: null, loop: 0,
    get box() { return one("#film"); },
    get there() { return Boolean(this.a && this.a.src); },
    place() {
      const box = this.box;
      return { offset: Number(box.dataset.offset), scale: 1 + Number(box.dataset.drift) * 1e-6 };
    },
    toFilm(session) { const p = this.place(); return p.offset + session * p.scale; },
    toSession(time) { const p = this.place(); return (time - p.offset) / p.scale; },
    now() { return this.toSession(this.a.currentTime); },
    seek(session) {
      if (!this.there) return say(words.film_first, true);
      this.alone();
      this.a.currentTime = Math.max(0, this.toFilm(session) - 0.8);
    },
    alone() {
      clearTimeout(this.loop);
      this.loop = 0;
      one("#second").hidden = true;
      if (this.b) this.b.pause();
      one("#cap-a").textContent = words.the_film;
    },
    rate(step) {
      const place = Math.min(speeds.length - 1, Math.max(0, speeds.indexOf(this.speed) + step));
      this.speed = speeds[place];
      for (const video of [this.a, this.b]) if (video) video.playbackRate = this.speed;
      one("#film-speed").textContent = `${this.speed}×`;
    },
    step(frames) {
      if (!this.there) return;
      this.alone();
      this.a.pause();
      this.a.currentTime = Math.max(0, this.a.currentTime + frames * this.frame);
    },
    compare() {
      const { a, b } = this.marks;
      if (!this.there || !a || !b) return say(words.film_and_tries, true);
      one("#second").hidden = false;
      one("#cap-a").textContent = `A: ${a.words}`;
      one("#cap-b").textContent = `B: ${b.words}`;
      if (this.b.src !== this.a.src) this.b.src = this.a.src;
      const again = () => {
        this.a.currentTime = Math.max(0, this.toFilm(a.at) - 1);
        this.b.currentTime = Math.max(0, this.toFilm(b.at) - 1);
        for (const video of [this.a, this.b]) {
          video.playbackRate = this.speed;
          video.play().catch(() => {});
        }
        this.loop = setTimeout(again, 2500 / this.speed);
      };
      clearTimeout(this.loop);
      again();
    },
    captions() {
      if (!this.a) return;
      if (!this.track) {
        this.track = this.a.addTextTrack("captions", words.tries, document.documentElement.lang);
        this.track.mode = "showing";
      }
      for (const cue of [...(this.track.cues || [])]) this.track.removeCue(cue);
      for (const rep of all("input[name=rep]")) {
        const at = this.toFilm(Number(rep.dataset.at));
        if (at >= 0) this.track.addCue(new VTTCue(at, at + 1.5, rep.dataset.words));
      }
    },
    frames() {
      if (!("requestVideoFrameCallback" in HTMLVideoElement.prototype)) return;
      let last = 0;
      const look = (_, info) => {
        const gap = info.mediaTime - last;
        // The smallest usual gap is a frame, also of a film whose frames come unevenly.
        if (gap > 0.003 && gap < 0.2 && !this.a.paused) this.frame = Math.min(gap, this.frame * 1.5);
        last = info.mediaTime;
        this.a.requestVideoFrameCallback(look);
      };
      this.a.requestVideoFrameCallback(look);
    },
    load(file) {
      if (this.a.src) URL.revokeObjectURL(this.a.src);
      this.a.src = URL.createObjectURL(file);
      one("#screens").hidden = false;
      this.captions();
      say(fill(words.open, file.name));
    },
  };
  if (film.a) {
    film.frames();
    one("#film-file").addEventListener("change", (event) => {
      if (event.target.files.length) film.load(event.target.files[0]);
    });
    film.a.addEventListener("error", () => {
      if (film.a.getAttribute("src")) say(words.cannot_play, true);
    });
    film.a.addEventListener("timeupdate", () => {
      const now = Math.max(0, film.now());
      const minutes = Math.floor(now / 60);
      one("#film-now").textContent = fill(words.of_session, `${minutes}:${(now - 60 * minutes).toFixed(2).padStart(5, "0")}`);
    });
  }

  // --- Reps ---------------------------------------------------------------------------------
  const chosen = () => one("input[name=rep]:checked");
  const choose = (step) => {
    const reps = all("input[name=rep]");
    if (!reps.length) return;
    const next = reps[Math.min(reps.length - 1, Math.max(0, reps.indexOf(chosen()) + step))];
    next.checked = true;
    next.focus();
    next.closest("tr").scrollIntoView({ block: "nearest" });
    if (film.there) film.seek(Number(next.dataset.at));
  };
  const mark = (name) => {
    const rep = chosen();
    if (!rep) return;
    film.marks[name] = { at: Number(rep.dataset.at), words: rep.dataset.words };
    say(fill(words.chosen, name.toUpperCase(), rep.dataset.words));
  };
  const filmActions = {
    play: () => { if (film.there) film.a.paused ? film.a.play().catch(() => {}) : film.a.pause(); },
    back: () => film.step(-1),
    on: () => film.step(1),
    slower: () => film.rate(-1),
    faster: () => film.rate(1),
    go: () => { if (chosen()) film.seek(Number(chosen().dataset.at)); },
    a: () => mark("a"),
    b: () => mark("b"),
    compare: () => film.compare(),
    here: () => {
      if (!film.there || !chosen()) return say(words.film_and_try, true);
      one("#offset_s").value = (film.a.currentTime - Number(chosen().dataset.at)).toFixed(3);
      say(words.taken);
    },
  };

  // --- Scoring ------------------------------------------------------------------------------
  const score = (values) => {
    const form = one("#score-form");
    for (const [name, value] of Object.entries(values)) form.elements[name].value = value;
    form.requestSubmit();
  };
  const scoreNow = (paid) => {
    if (!film.there) return say(words.film, true);
    const step = one("#latest")?.dataset.step || 1;
    score({ at_s: film.now(), paid, step, last: "" });
  };
  const scoreLast = (change) => {
    const last = one("#latest")?.dataset;
    if (!last) return say(words.nothing_scored, true);
    score({ at_s: last.at, paid: last.paid, step: last.step, last: last.id, ...change });
  };

  // --- Changes without leaving the page -------------------------------------------------------
  // Says how far a long one has come: seldom, since it may be read aloud.
  const follow = (form) => {
    if (!form.hasAttribute("data-follow")) return 0;
    let told = 0;
    return setInterval(async () => {
      const answer = await fetch(form.action).catch(() => null);
      const percent = answer?.status === 200 ? Number(await answer.text()) : 0;
      if (percent < told + 10 || form.getAttribute("aria-busy") !== "true") return;
      told = percent;
      say(fill(words.listening, percent));
    }, 2000);
  };
  const send = async (form, submitter) => {
    const values = new FormData(form, submitter);
    const inFilm = submitter?.hasAttribute("data-needs-film");
    if (inFilm && !film.there) return say(words.film_is_the_time, true);
    if (inFilm) values.set("at_s", film.now());
    if (values.get("by") && one("[data-keep=by]", form)) localStorage.setItem("by", values.get("by"));
    say(form.dataset.live);
    form.setAttribute("aria-busy", "true");
    const following = follow(form);
    try {
      const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(values) });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!answer.ok) return say(one("#trouble", page)?.textContent || words.not_done, true);
      const wasIn = document.activeElement?.closest("[data-part]")?.id;
      const row = document.activeElement?.name === "rep";
      for (const part of all("[data-part]")) {
        const fresh = document.getElementById(part.id) && page.getElementById(part.id);
        if (fresh) part.replaceChildren(...fresh.childNodes);
      }
      const box = one("#film", page);
      if (box && film.box) {
        Object.assign(film.box.dataset, { ...box.dataset });
        one(".quiet", film.box).textContent = one(".quiet", box).textContent;
      }
      keep();
      if (film.there) film.captions();
      if (row) chosen()?.focus();
      else if (wasIn) one("#main").focus({ preventScroll: true });
      say(one("#status", page)?.textContent || words.saved);
    } catch {
      // A browser waits some minutes; a long film is heard to its end all the same.
      const heard = following && await fetch(form.action).then((answer) => answer.ok).catch(() => false);
      if (heard) say(words.still_listening);
      else say(words.no_answer, true);
    } finally {
      clearInterval(following);
      form.removeAttribute("aria-busy");
    }
  };
  const keep = () => {
    const by = localStorage.getItem("by") || "";
    for (const field of all("[data-keep=by]")) field.value = by;
    const undo = one("[data-undo]");
    if (undo) undo.dataset.key = "u";
    chosen()?.closest("tr").scrollIntoView({ block: "nearest" });
  };
  document.addEventListener("submit", (event) => {
    if (!event.target.dataset.live) return;
    event.preventDefault();
    if (event.target.getAttribute("aria-busy") !== "true") send(event.target, event.submitter);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const { film: action, seek, score: paid, lastStep, lastPaid } = button.dataset;
    if (action) filmActions[action]();
    else if (seek) film.seek(Number(seek));
    else if (paid) scoreNow(paid);
    else if (lastStep) scoreLast({ step: lastStep });
    else if (lastPaid) scoreLast({ paid: lastPaid });
  });
  document.addEventListener("change", (event) => {
    if (event.target.name === "rep" && film.there) film.seek(Number(event.target.dataset.at));
  });

  // --- Keys ---------------------------------------------------------------------------------
  const on = one("#keys-on");
  if (on) {
    on.checked = localStorage.getItem("keys") !== "off";
    on.addEventListener("change", () => localStorage.setItem("keys", on.checked ? "on" : "off"));
  }
  document.addEventListener("keydown", (event) => {
    if (!on?.checked || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (event.target.closest("textarea, select, video, input:not([type=radio], [type=checkbox])")) return;
    const key = event.key === "=" ? "+" : event.key;
    if (key === "ArrowDown" || key === "ArrowUp") {
      if (!all("input[name=rep]").length) return;
      event.preventDefault();
      return choose(key === "ArrowDown" ? 1 : -1);
    }
    const button = one(`[data-key="${CSS.escape(key)}"]`);
    if (!button || button.closest("[hidden]")) return;
    event.preventDefault();
    button.click();
  });
  if (innerWidth < 640 && one("#keys")) one("#keys").open = false;
  keep();
})();
