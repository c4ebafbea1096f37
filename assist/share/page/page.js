// The page of the second screen. It is told what to show and sounds by the same rules as the
// assistant; it never works anything out, and shows nothing that is older than half a second.
"use strict";

const settings = JSON.parse(document.querySelector("meta[name=settings]").content);
const texts = settings.texts;
const root = document.documentElement;
const at = (id) => document.getElementById(id);

const STALE_MS = 500;
const LOOK_HOLD_MS = 350; // the big panel never changes its ground more often: under 3 flashes a second
const CHECK_MS = 50;
const LEAST_TEXT_PX = 16;
const LOOKS = {
  forward: "move", back: "move", again: "move", reframe: "move", stop: "still", hold: "still",
  not_sure: "doubt",
};

// -- what is known ---------------------------------------------------------------------------

let news = null; // the last message
let run = ""; // which run of the assistant it came from
let offset = Infinity; // least difference seen between this clock and the assistant's, ms
let linked = false;
let everLinked = false;
let ended = false;
let source = null;

function hear(message) {
  const now = performance.now();
  if (message.run !== run) {
    run = message.run;
    offset = Infinity;
  }
  offset = Math.min(offset, now - message.at);
  news = message;
  refresh();
}

// Age of the news: what the fastest message took is the link; anything more is delay.
function age() {
  return news ? performance.now() - news.at - offset : Infinity;
}

// -- what is shown ---------------------------------------------------------------------------

const shown = {};
let lookChanged = -Infinity;
let textChanged = false;

function put(id, text) {
  if (shown[id] !== text) {
    shown[id] = text;
    at(id).textContent = text;
    if (at(id + "-room")) fit(id);
    else textChanged = true;
  }
}

function fit(id) {
  const span = at(id);
  const room = at(id + "-room").getBoundingClientRect();
  if (!span.textContent || !room.width) return;
  span.style.fontSize = "100px";
  const width = span.getBoundingClientRect().width;
  span.style.fontSize = Math.floor(Math.min((98 * room.width) / width, 0.98 * room.height)) + "px";
}

// The small text as large as all of it fits, found by halving. Where that is too small to read, the
// further advice goes, then the sentence, which only repeats the word and the length; never a warning.
function fitText() {
  const box = at("text");
  if (!box.clientHeight) return;
  at("also").hidden = at("sentence").hidden = false;
  for (const id of ["also", "sentence", ""]) {
    if (sizeOfText(box) >= LEAST_TEXT_PX || !id) return;
    at(id).hidden = true;
  }
}

function sizeOfText(box) {
  let least = 10;
  let most = 64;
  while (most - least > 1) {
    const size = Math.floor((least + most) / 2);
    box.style.fontSize = size + "px";
    if (box.scrollHeight <= box.clientHeight && box.scrollWidth <= box.clientWidth) least = size;
    else most = size;
  }
  box.style.fontSize = least + "px";
  return least;
}

function view() {
  if (news && age() <= STALE_MS) return news;
  const gone = why();
  return {
    sign: "no_feed", lean: 0, word: texts[gone], sentence: texts[gone + "_why"], length: "",
    caution: "", also: [], count: "", warning: "", left: null, fired: false, cue: null,
  };
}

// Why there is nothing to show.
function why() {
  if (ended) return "ended";
  if (linked) return run ? "waiting" : "first";
  return everLinked ? "lost" : "connecting";
}

function refresh() {
  const v = view();
  const look = LOOKS[v.sign] || "none";
  if (look !== shown.look) {
    if (performance.now() - lookChanged < LOOK_HOLD_MS) return; // the next check shows the newest
    lookChanged = performance.now();
    shown.look = look;
    at("act").dataset.look = look;
  }
  const shape = "#s-" + v.sign + (v.lean || "");
  if (shape !== shown.shape) {
    shown.shape = shape;
    at("shape").setAttribute("href", at(shape.slice(1)) ? shape : "#s-no_feed");
  }
  if (v.word !== shown.word) at("aloud").textContent = v.word + ". " + v.caution;
  put("word", v.word);
  put("length", v.length);
  put("count", v.count);
  put("caution", v.caution);
  put("warning", v.warning);
  put("sentence", v.sentence);
  put("also", v.also.join(" · "));
  if (textChanged) fitText();
  textChanged = false;
  at("act").dataset.n = v.n || 0;
}

function fitAll() {
  for (const id of ["word", "length", "count"]) fit(id);
  fitText();
}

// -- the link --------------------------------------------------------------------------------

function state(name) {
  root.dataset.state = name;
  if (name === "live") fitAll();
  if (name === "pair") at("code").focus();
}

function listen() {
  if (source) source.close();
  source = new EventSource("events");
  source.onopen = () => {
    linked = everLinked = true;
    ended = false;
    state("live");
  };
  source.onmessage = (event) => hear(JSON.parse(event.data));
  source.addEventListener("bye", () => {
    ended = true;
    news = null;
    run = "";
  });
  source.onerror = () => {
    linked = false;
    if (source.readyState === EventSource.CLOSED) {
      source = null;
      setTimeout(start, 500);
    }
  };
}

// Paired already? Then listen; else ask for the code. Tried again and again while nothing answers.
async function start() {
  let answer;
  try {
    answer = await fetch("session", { cache: "no-store" });
  } catch {
    linked = false;
    setTimeout(start, 500);
    return;
  }
  if (answer.ok) listen();
  else if (answer.status === 503) {
    at("trouble").textContent = texts.full;
    state("pair");
    setTimeout(start, 1000);
  } else await offer();
}

async function offer() {
  const code = location.hash.slice(1);
  history.replaceState(null, "", location.pathname); // a code is not left in the address
  if (code) await pair(code);
  else state("pair");
}

async function pair(code) {
  let answer;
  try {
    answer = await fetch("pair", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ code }),
    });
  } catch {
    at("trouble").textContent = texts.lost;
    state("pair");
    return;
  }
  if (answer.ok) {
    at("trouble").textContent = "";
    listen();
    return;
  }
  at("trouble").textContent = answer.status === 410 ? texts.closed : texts.wrong_code;
  state("pair");
}

// -- sound -----------------------------------------------------------------------------------

const PARTS = { single: 0.5, double: 0.5, stop: 0.5, steady: 0.25, doubt: 0.2, alone: 0.15 };
const EVENT = 0.5;
const OVERTONES = [0, 1, 0.25, 0.12];
const AHEAD_S = 0.12;
let audio = null;
let master = null;
let wave = null;
let drone = null;
let droneGain = null;
let kind = null;
let nextOnset = 0;
let lastTick = Infinity;
let fired = false;
let trouble = false;
let playing = [];

function soundOn() {
  audio = new AudioContext();
  master = audio.createGain();
  master.gain.value = settings.peak;
  master.connect(audio.destination);
  wave = audio.createPeriodicWave(new Float32Array(4), new Float32Array(OVERTONES));
  drone = audio.createOscillator();
  drone.setPeriodicWave(wave);
  droneGain = audio.createGain();
  droneGain.gain.value = 0;
  drone.connect(droneGain).connect(master);
  drone.start();
  kind = null;
  lastTick = Infinity;
  fired = news !== null && news.fired;
  trouble = news !== null && news.trouble;
}

function soundOff() {
  if (audio) audio.close();
  audio = null;
}

function note(pitch, start, seconds, part, isCue) {
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  oscillator.setPeriodicWave(wave);
  oscillator.frequency.value = pitch;
  const end = start + seconds;
  gain.gain.setValueAtTime(0, start);
  gain.gain.linearRampToValueAtTime(part, start + 0.008);
  gain.gain.setValueAtTime(part, Math.max(start + 0.008, end - 0.02));
  gain.gain.linearRampToValueAtTime(0, end);
  oscillator.connect(gain).connect(master);
  oscillator.start(start);
  oscillator.stop(end);
  if (isCue) {
    playing.push(gain);
    oscillator.onended = () => { playing = playing.filter((one) => one !== gain); };
  }
}

function hush(now) {
  for (const gain of playing) {
    gain.gain.cancelScheduledValues(now);
    gain.gain.setTargetAtTime(0, now, 0.004);
  }
  playing = [];
}

function sound() {
  if (!audio || audio.state !== "running") return;
  const now = audio.currentTime;
  const fresh = news && age() <= STALE_MS;
  const cue = fresh ? news.cue : null;
  const wanted = cue ? cue.kind : null;
  if (wanted !== kind) {
    kind = wanted;
    hush(now);
    nextOnset = now;
    const steady = kind === "steady" || kind === "stop";
    droneGain.gain.cancelScheduledValues(now);
    droneGain.gain.setTargetAtTime(steady ? PARTS[kind] : 0, now, 0.015);
  }
  if (cue && (kind === "steady" || kind === "stop")) drone.frequency.value = cue.pitch;
  else if (cue) {
    const period = 1 / cue.tempo;
    nextOnset = Math.max(now, Math.min(nextOnset, now + period));
    while (nextOnset < now + AHEAD_S) {
      if (kind === "single") note(cue.pitch, nextOnset, Math.min(0.12, 0.45 * period), PARTS.single, true);
      else if (kind === "double") {
        note(cue.pitch, nextOnset, 0.06, PARTS.double, true);
        note(cue.pitch, nextOnset + 0.09, 0.06, PARTS.double, true);
      } else note(cue.pitch, nextOnset, 0.03, PARTS[kind], true);
      nextOnset += period;
    }
  }
  if (fresh && news.left !== null) {
    const left = news.left - age() / 1000;
    if (left > lastTick + 0.5) lastTick = Infinity;
    const second = Math.floor(left + 0.15);
    if (second >= 1 && second < lastTick && left - second < AHEAD_S) {
      lastTick = second;
      note(second <= 3 ? 1500 : 1000, Math.max(now, now + left - second), 0.05, EVENT, false);
    }
  } else if (fresh) lastTick = Infinity;
  if (fresh && news.fired && !fired) {
    [784, 988, 1175].forEach((pitch, i) => note(pitch, now + 0.12 * i, 0.12, EVENT, false));
  }
  if (fresh && news.trouble && !trouble) {
    [523, 415, 330].forEach((pitch, i) => note(pitch, now + 0.16 * i, 0.16, EVENT, false));
  }
  if (fresh) {
    fired = news.fired;
    trouble = news.trouble;
  }
}

// -- the person's own choices ----------------------------------------------------------------

const THEMES = ["plain", "sun", "night"];

function theme(name) {
  root.dataset.theme = name;
  at("theme").textContent = texts["theme_" + name];
  try { localStorage.setItem("theme", name); } catch { /* private browsing: not kept */ }
}

// Only pages from a safe origin may keep the screen awake; elsewhere the person has to.
async function stayAwake() {
  try {
    await navigator.wakeLock.request("screen");
    at("status").textContent = "";
  } catch {
    at("status").textContent = texts.awake;
  }
}

at("theme").addEventListener("click", () => {
  theme(THEMES[(THEMES.indexOf(root.dataset.theme) + 1) % THEMES.length]);
});
at("sound").addEventListener("click", () => {
  if (audio) soundOff();
  else soundOn();
  at("sound").setAttribute("aria-pressed", String(audio !== null));
  at("sound").textContent = audio ? texts.sound_off : texts.sound_on;
});
at("pair").addEventListener("submit", (event) => {
  event.preventDefault();
  pair(at("code").value);
});
window.addEventListener("resize", fitAll);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") stayAwake();
});
let saved = null;
try { saved = localStorage.getItem("theme"); } catch { /* the same */ }
if (THEMES.includes(saved)) theme(saved);

if (settings.video) {
  const image = at("picture");
  root.dataset.video = "";
  image.dataset.mirrored = settings.mirrored;
  const next = () => { image.src = "picture?" + Date.now(); };
  image.onload = () => {
    image.hidden = false;
    setTimeout(next, 100);
  };
  image.onerror = () => {
    image.hidden = true; // an old picture is not left standing
    setTimeout(next, 500);
  };
  next();
}

setInterval(refresh, CHECK_MS);
setInterval(sound, 25);
stayAwake();
start();
