"use strict";
const at = (id) => document.getElementById(id);
const sections = ["plan", "connect", "take", "check", "guide"];
const chosen = { feed: "sample" };
let shownSession = "";

// -- asking the program -------------------------------------------------------------------------

function address(path) {
  const query = new URLSearchParams({ language: at("language").value, units: at("units").value });
  return `${path}?${query}`;
}

async function ask(path, body) {
  const options = body === undefined ? {} : {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
  };
  let response;
  try {
    response = await fetch(address(path), options);
  } catch (error) {
    tell(at("trouble").dataset.lost);
    throw error;
  }
  if (response.status === 401 || response.status === 403) {
    tell(at("trouble").dataset.enter);
    throw new Error("not known");
  }
  const answer = response.status === 204 ? {} : await response.json();
  if (answer.error) {
    const problem = new Error(answer.error);
    problem.told = true;
    throw problem;
  }
  return answer;
}

const tell = (words) => { if (at("trouble").textContent !== words) at("trouble").textContent = words; };

async function trying(work) {
  try {
    const result = await work();
    tell("");
    return result;
  } catch (error) {
    if (error.told) tell(error.message); else console.error(error);
    return undefined;
  }
}

const given = (form) => Object.fromEntries(
  [...new FormData(form)].map(([name, value]) => [name, typeof value === "string" ? value : ""]));

function fill(list, items, make) {
  list.replaceChildren(...items.map((item) => {
    const made = document.createElement("li");
    const inside = make ? make(item) : item;
    made.append(inside);
    return made;
  }));
}

function option(value, words) {
  const made = document.createElement("option");
  made.value = value;
  made.textContent = words;
  return made;
}

// -- plan ---------------------------------------------------------------------------------------

let asking = false, again = false;

async function plan() {
  if (asking) { again = true; return; }
  asking = true;
  const shown = await trying(() => ask("plan", given(at("plan-form"))));
  if (shown) show(shown);
  asking = false;
  if (again) { again = false; plan(); }
}

function show(shown) {
  at("plan-headline").textContent = shown.headline;
  fill(at("plan-lines"), shown.lines);
  fill(at("plan-steps"), shown.steps, (step) => {
    const made = document.createElement("span");
    const title = document.createElement("strong");
    title.textContent = `${step.title}. `;
    made.append(title, step.text);
    return made;
  });
  fill(at("plan-care"), shown.cautions);
  draw(shown.drawing);
  at("plan-soft").replaceChildren(...shown.softness.map((one) => {
    const row = document.createElement("tr");
    for (const words of [one.at, one.distance, one.disc]) row.insertCell().textContent = words;
    return row;
  }));
  const focus = at("plan-form").elements.focus;
  if (!focus.value) { focus.value = shown.focus; follow(focus); }
}

function svg(name, attributes, words) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words !== undefined) made.textContent = words;
  return made;
}

function draw(d) {
  const end = Math.max(d.focus_m * 1.35, Math.min(d.far_m ?? Infinity, d.focus_m * 1.8) * 1.05);
  const scale = Math.min(880 / end, 230 / Math.max(2.1, d.frame_m[1], d.camera_height_m));
  const x = (m) => 60 + m * scale, y = (m) => 275 - m * scale;
  const right = Math.min(x(d.far_m ?? end * 2), 985);
  const person = x(d.focus_m);
  const parts = [
    svg("line", { class: "ground", x1: 10, y1: y(0), x2: 990, y2: y(0) }),
    svg("rect", { class: "zone", x: x(d.near_m), y: y(d.frame_m[1] + 0.1), width: Math.max(3, right - x(d.near_m)),
      height: y(0) - y(d.frame_m[1] + 0.1) }),
    svg("line", { class: "frame", x1: x(0), y1: y(d.camera_height_m), x2: person, y2: y(d.frame_m[1]) }),
    svg("line", { class: "frame", x1: x(0), y1: y(d.camera_height_m), x2: person, y2: y(Math.max(0, d.frame_m[0])) }),
    svg("line", { class: "mark", x1: person, y1: y(0), x2: person, y2: y(0) + 12 }),
    svg("path", { class: "ground", d: `M${x(0)} ${y(d.camera_height_m)}L${x(0) - 18} ${y(0)}M${x(0)} ${y(d.camera_height_m)}L${x(0) + 14} ${y(0)}` }),
    svg("rect", { class: "body", x: x(0) - 14, y: y(d.camera_height_m) - 10, width: 24, height: 18 }),
  ];
  for (const part of d.figure) {
    const points = part.map(([px, py]) => `${person + px * scale},${y(py)}`).join(" ");
    parts.push(svg("polygon", { class: "body", points }));
  }
  const gap = (x(d.focus_m) - x(d.near_m)) < 90 || (right - x(d.focus_m)) < 90;
  parts.push(
    svg("text", { x: x(d.near_m), y: y(0) + (gap ? 52 : 32), "text-anchor": "end" }, d.labels[0]),
    svg("text", { x: person, y: y(0) + 32, "text-anchor": "middle" }, d.labels[1]),
    svg("text", { x: Math.min(right, 940), y: y(0) + (gap ? 52 : 32), "text-anchor": "start" }, d.labels[2]));
  at("side-drawing").replaceChildren(...parts);
}

function slide(range) {
  const field = at("plan-form").elements[range.dataset.for];
  field.value = range.dataset.list ? `f/${range.dataset.list.split(" ")[range.value]}` : `${range.value}${range.dataset.unit}`;
}

function follow(field) {
  const range = document.querySelector(`[data-for="${field.name}"]`);
  if (!range) return;
  const number = parseFloat(field.value.replace(/^f\/?/i, ""));
  if (Number.isNaN(number)) return;
  if (range.dataset.list) {
    const list = range.dataset.list.split(" ").map(Number);
    range.value = list.reduce((best, one, k) => Math.abs(one - number) < Math.abs(list[best] - number) ? k : best, 0);
  } else range.value = number;
}

at("plan-form").addEventListener("submit", (event) => { event.preventDefault(); plan(); });
at("plan-form").addEventListener("input", (event) => {
  if (event.target.type === "range") slide(event.target); else follow(event.target);
  plan();
});
at("fit").addEventListener("click", () => { at("plan-form").elements.focus.value = ""; plan(); });

at("keep-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const kept = await trying(() => ask("set-ups", { ...given(at("plan-form")), ...given(event.target) }));
  if (kept) {
    listSetUps(kept.names, kept.name);
    at("kept-word").textContent = `${at("kept-word").dataset.kept}: ${kept.name}`;
  }
});
at("kept").addEventListener("change", async () => {
  if (!at("kept").value) return;
  const values = await trying(() => ask(`set-ups/${encodeURIComponent(at("kept").value)}`));
  if (!values) return;
  for (const [name, value] of Object.entries(values)) {
    const field = at("plan-form").elements[name] ?? at("keep-form").elements[name];
    if (field) { field.value = value; follow(field); }
  }
  plan();
});

function listSetUps(names, now) {
  at("kept").replaceChildren(option("", "-"), ...names.map((name) => option(name, name)));
  const before = now ?? at("take-set-up").value;
  at("take-set-up").replaceChildren(...names.map((name) => option(name, name)));
  if (names.includes(before)) at("take-set-up").value = before;
}

at("search-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const found = await trying(() => ask("search", { ...given(at("plan-form")), ...given(event.target) }));
  if (!found) return;
  at("search-none").textContent = found.why_none ?? "";
  fill(at("search-help"), found.help);
  const table = at("search-table"), body = table.tBodies[0];
  table.hidden = !found.choices.length;
  body.replaceChildren(...found.choices.map((one) => {
    const row = document.createElement("tr");
    for (const name of ["lens", "aperture", "focus", "before", "behind", "shutter", "iso", "reason"]) {
      row.insertCell().textContent = one[name];
    }
    const take = document.createElement("button");
    take.type = "button";
    take.textContent = body.dataset.take;
    take.addEventListener("click", () => {
      for (const name of ["lens", "aperture", "focus"]) {
        const field = at("plan-form").elements[name];
        field.value = one[name];
        follow(field);
      }
      plan();
      at("plan-headline").scrollIntoView({ block: "center" });
    });
    row.insertCell().append(take);
    return row;
  }));
});

// -- connect ------------------------------------------------------------------------------------

async function listFeeds() {
  const found = await trying(() => ask("feeds"));
  if (!found) return;
  at("feeds").replaceChildren(...found.feeds.map((one) => {
    const label = document.createElement("label");
    label.className = "choice";
    const radio = document.createElement("input");
    radio.type = "radio";
    radio.name = "feed";
    radio.value = one.feed;
    radio.checked = one.feed === chosen.feed;
    const words = document.createElement("span");
    words.textContent = one.feed === "sample" ? one.name : `${one.feed}: ${one.name}`;
    label.append(radio, words);
    return label;
  }));
}

function feed() {
  const value = given(at("feed-form"));
  const name = value.feed === "address" ? at("address").value : (value.feed ?? chosen.feed);
  chosen.feed = name;
  return { feed: name, through: value.through, view: value.view };
}

at("feed-form").addEventListener("submit", (event) => event.preventDefault());
at("feed-form").addEventListener("change", () => { at("through").disabled = feed().feed === "sample"; });
at("look").addEventListener("click", async () => {
  at("look-picture").hidden = true;
  at("look-word").textContent = at("look-word").dataset.wait;
  const seen = await trying(() => ask("look", { feed: feed().feed }));
  at("look-word").textContent = seen ? (seen.problem ?? `${seen.width_px} x ${seen.height_px}`) : "";
  if (seen && seen.picture) {
    at("look-picture").src = `look?${Date.now()}`;
    at("look-picture").hidden = false;
  }
});

for (const what of ["check", "sounds"]) {
  at(`machine-${what}`).addEventListener("click", async (event) => {
    event.target.disabled = true;
    at("machine-word").textContent = at("machine-word").dataset.wait;
    const done = await trying(() => ask(`machine/${what}`, {}));
    event.target.disabled = false;
    at("machine-word").textContent = "";
    if (done) at("machine-lines").textContent = done.lines.join("\n");
  });
}

// -- take ---------------------------------------------------------------------------------------

let opened = "";

at("take-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const values = { ...given(event.target), ...feed() };
  for (const name of ["sound", "speech", "forward_only", "teach_mark", "phone"]) values[name] = event.target.elements[name].checked;
  opened = "";
  const state = await trying(() => ask("run", values));
  if (state) { told(state); watch(); }
});
at("end").addEventListener("click", async () => { const state = await trying(() => ask("run/end", {})); if (state) told(state); });

function told(state) {
  const word = at("run-word"), going = state.state === "going";
  const words = going ? (state.link ? word.dataset.going : word.dataset.starting) : word.dataset[state.state];
  if (word.textContent !== words) word.textContent = words;
  const lines = state.lines.join("\n");
  if (at("run-lines").textContent !== lines) at("run-lines").textContent = lines;
  at("start").disabled = going;
  at("end").disabled = !going;
  at("open-guidance").hidden = !state.link;
  if (state.link) at("open-guidance").href = state.link;
  const reached = Boolean(state.link) && new URL(state.link).hostname !== location.hostname;
  if (reached && at("code-figure").hidden) at("code").src = `run/code.svg?${Date.now()}`;
  at("code-figure").hidden = !reached;
}

let watching = false;
async function watch() {
  if (watching) return;
  watching = true;
  for (;;) {
    const state = await trying(() => ask("run"));
    if (!state) break;
    told(state);
    if (state.state !== "going") break;
    await new Promise((done) => setTimeout(done, 500));
  }
  watching = false;
  listSessions();
}

// -- check --------------------------------------------------------------------------------------

async function listSessions() {
  const found = await trying(() => ask("sessions"));
  if (!found) return;
  const before = at("take-repeat").value;
  at("take-repeat").replaceChildren(option("", "-"), ...found.sessions.map((one) => option(one.name, one.name)));
  at("take-repeat").value = before;
  if (!found.sessions.length) { fill(at("sessions"), [at("sessions").dataset.none]); return; }
  fill(at("sessions"), found.sessions, (one) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = `${one.name}: ${one.words}`;
    button.addEventListener("click", () => showSession(one.name));
    return button;
  });
}

const ofSession = (path) => `sessions/${encodeURIComponent(shownSession)}/${path}`;

async function showSession(name) {
  shownSession = name;
  const told = await trying(() => ask(`sessions/${encodeURIComponent(name)}`));
  if (!told) return;
  at("session").hidden = false;
  at("session-title").textContent = `${told.name}: ${told.title}`;
  fill(at("session-keep"), told.keep);
  at("beside").replaceChildren();
  at("work-lines").textContent = "";
  at("open-report").hidden = true;
  const stamp = Date.now();
  at("shots").replaceChildren(...told.shots.map((shot) => {
    const figure = document.createElement("figure"), image = document.createElement("img");
    image.src = `${ofSession(`picture/${shot.attempt}`)}?${stamp}`;
    const words = `${at("shots").dataset.attempt} ${shot.attempt}: ${shot.verdict || shot.said}`;
    image.alt = words;
    const caption = document.createElement("figcaption");
    caption.textContent = words;
    const label = document.createElement("label"), box = document.createElement("input");
    label.className = "choice";
    box.type = "checkbox";
    box.value = shot.attempt;
    box.addEventListener("change", beside);
    label.append(box, at("shots").dataset.choose);
    figure.append(image, caption, label);
    if (shot.eyes) {
      const more = document.createElement("details"), title = document.createElement("summary");
      title.textContent = at("shots").dataset.eyes;
      const scroll = document.createElement("div"), eyes = document.createElement("img");
      scroll.className = "eyes-scroll";
      scroll.tabIndex = 0;
      eyes.className = "eyes";
      eyes.loading = "lazy";
      eyes.alt = `${words}: ${at("shots").dataset.eyes}`;
      eyes.src = `${ofSession(`eyes/${shot.attempt}`)}?${stamp}`;
      scroll.append(eyes);
      more.append(title, scroll);
      figure.append(more);
    }
    return figure;
  }));
  at("session").scrollIntoView({ block: "nearest" });
}

function beside() {
  const boxes = [...at("shots").querySelectorAll("input:checked")];
  for (const one of boxes.slice(0, -2)) one.checked = false;
  at("beside").replaceChildren(...boxes.slice(-2).map((box) => {
    const image = box.closest("figure").querySelector("img").cloneNode();
    return image;
  }));
}

async function work(what) {
  for (const id of ["review", "report"]) at(id).disabled = true;
  at("work-word").textContent = at("work-word").dataset.wait;
  const name = shownSession;
  const done = await trying(() => ask(ofSession(what), {}));
  for (const id of ["review", "report"]) at(id).disabled = false;
  at("work-word").textContent = "";
  if (!done) return;
  if (what === "review" && name === shownSession) await showSession(name);
  at("work-lines").textContent = done.lines.join("\n");
  if (what === "report" && done.code === 0) {
    at("open-report").href = address(ofSession("report"));
    at("open-report").hidden = false;
  }
}
at("review").addEventListener("click", () => work("review"));
at("report").addEventListener("click", () => work("report"));
at("again").addEventListener("click", () => { at("take-repeat").value = shownSession; location.hash = "#take"; });

// -- guide, and the way about -------------------------------------------------------------------

async function showPage(topic) {
  const page = await trying(() => ask(`guide/${topic}`));
  if (!page) return;
  // Made by the program of its own pages, in which no HTML of anybody's is let through.
  at("page").innerHTML = page.html;
  for (const link of at("page").querySelectorAll("a")) {
    const found = /([a-z-]+)\.md$/.exec(link.getAttribute("href") ?? "");
    if (found) link.href = `#guide/${found[1]}`;
  }
}

function go() {
  const [name, topic] = location.hash.slice(1).split("/");
  const now = sections.includes(name) ? name : "plan";
  for (const one of sections) at(one).hidden = one !== now;
  for (const link of document.querySelectorAll("nav a")) {
    if (link.hash === `#${now}`) link.setAttribute("aria-current", "page"); else link.removeAttribute("aria-current");
  }
  document.title = `${at(`${now}-title`).textContent} - ${document.querySelector("header h1").textContent}`;
  if (now === "guide") showPage(topic ?? "install");
  if (now === "check") listSessions();
  if (now === "connect") listFeeds();
}

at("quit").addEventListener("click", async () => {
  await trying(() => ask("quit", {}));
  tell(at("trouble").dataset.ended);
});

at("language").addEventListener("change", () => { location.assign(`${address(location.pathname)}${location.hash}`); });
at("units").addEventListener("change", () => { plan(); });

async function begin() {
  const token = location.hash.slice(1);
  if (token && !sections.includes(token.split("/")[0])) {
    const entered = await fetch("enter", { method: "POST", headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ token }) });
    history.replaceState(null, "", location.pathname + location.search);
    if (!entered.ok) { tell(at("trouble").dataset.enter); return; }
  }
  window.addEventListener("hashchange", go);
  go();
  plan();
  const names = await trying(() => ask("set-ups"));
  if (names) listSetUps(names.names);
  const state = await trying(() => ask("run"));
  if (state) { told(state); if (state.state === "going") watch(); }
  listSessions();
}
begin();
