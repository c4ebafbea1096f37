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
  forward: "move", back: "away", again: "away", reframe: "move", stop: "still", hold: "still",
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
let roomsChanged = false;

function put(id, text) {
  if (shown[id] !== text) {
    shown[id] = text;
    at(id).textContent = text;
    const room = at(id + "-room");
    if (!room) textChanged = true;
    else if (room.hidden === !text) fit(id);
    else {
      room.hidden = !text; // others have its place
      roomsChanged = true;
    }
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
    caution: "", also: gone === "first" ? [texts.care] : [], count: "", warning: "", left: null, fired: "", place: null, others: [],
    cue: null,
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
  if (at("who").hidden !== !v.several) {
    at("who").hidden = !v.several;
    roomsChanged = true; // the buttons may have got another row
  }
  if (roomsChanged) fitAll();
  else if (textChanged) fitText();
  textChanged = roomsChanged = false;
  stand(v.place);
  accompany(v.others || []);
  at("act").dataset.n = v.n || 0;
}

const percent = (part) => (100 * part).toFixed(2) + "%";

// The strip's own part: the zone, with its limits beside it, so that they never meet.
function ground() {
  const { near, focus, far, near_text: nearText, far_text: farText } = settings.strip;
  at("zone").style.left = percent(near);
  at("zone").style.width = percent(far - near);
  at("focus").style.left = percent(focus);
  at("near").style.right = `min(${percent(1 - near)}, 100% - 4ch)`;
  at("near").textContent = nearText;
  at("far").style.left = `min(${percent(far)}, 100% - 4ch)`;
  at("far").textContent = farText;
}

// The person on the strip: beginning, middle and end of where they may be; nobody without.
function stand(place) {
  at("spread").hidden = at("eyes").hidden = !place;
  if (!place || String(place) === shown.place) return;
  shown.place = String(place);
  const [low, eyes, high] = place;
  at("spread").style.left = percent(low);
  at("spread").style.width = percent(high - low);
  at("eyes").style.left = percent(eyes);
}

// The others of several people, who are not the one that the word is for.
function accompany(others) {
  if (String(others) === shown.others) return;
  shown.others = String(others);
  at("others").replaceChildren(...others.map((part) => {
    const mark = document.createElement("i");
    mark.style.left = percent(part);
    return mark;
  }));
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

// -- what happens ----------------------------------------------------------------------------

const AHEAD_S = 0.12;
let sign = "";
let lastTick = Infinity;
let fired = null; // null until the first news: what had happened before is not told
let trouble = null;

// Sounds and shakes for all that begins at this moment.
function happen() {
  sound();
  if (!news || age() > STALE_MS) {
    sign = "";
    return;
  }
  if (news.sign === "hold" && sign !== "hold") buzz("hold", 0);
  sign = news.sign;
  if (news.left !== null) {
    const left = news.left - age() / 1000;
    if (left > lastTick + 0.5) lastTick = Infinity; // begun again
    const second = Math.floor(left + 0.15);
    if (second >= 1 && second < lastTick && left - second < AHEAD_S) {
      lastTick = second;
      signal(second <= sounds.last_ticks ? "last_tick" : "tick", Math.max(0, left - second));
    }
  } else lastTick = Infinity;
  if (news.fired && fired === "") signal(news.fired, 0);
  if (news.trouble && trouble === false) signal("trouble", 0);
  fired = news.fired;
  trouble = Boolean(news.trouble);
}

function signal(name, delayS) {
  ring(sounds[name], delayS);
  buzz(name, delayS);
}

// -- vibration -------------------------------------------------------------------------------

// Milliseconds on and off. What has begun is not cut short by what ranks before it in this list.
const SHAKES = {
  last_tick: [80],
  hold: [150, 100, 150],
  trouble: [80, 80, 80, 80, 80, 80, 80, 80, 80],
  taken: [800],
  now: [800],
};
const RANKS = Object.keys(SHAKES);
const canVibrate = typeof navigator.vibrate === "function";
let vibrates = canVibrate;
let shaking = { rank: -1, until: 0 };

function buzz(name, delayS) {
  const pattern = SHAKES[name];
  if (!vibrates || !pattern) return;
  const rank = RANKS.indexOf(name);
  const start = performance.now() + 1000 * delayS;
  if (start < shaking.until && rank < shaking.rank) return;
  shaking = { rank, until: start + pattern.reduce((sum, part) => sum + part, 0) };
  setTimeout(() => { if (vibrates && touched()) navigator.vibrate(pattern); }, 1000 * delayS);
}

// Browsers vibrate for nobody who has not touched the page.
function touched() {
  return !navigator.userActivation || navigator.userActivation.hasBeenActive;
}

function setVibration(on) {
  vibrates = on;
  if (!on && touched()) navigator.vibrate(0);
  pressed("vibration", on);
  keep("vibration", on ? "on" : "off");
  hint();
}

// -- sound -----------------------------------------------------------------------------------

const sounds = settings.sounds;
const CURVE_POINTS = 256;
let audio = null;
let master = null;
let cues = null; // what the cues sound through: signals turn it down
let bus = null; // the same for one kind of cue, to be let go as a whole
let wave = null;
let drone = null;
let droneGain = null;
let kind = null;
let nextOnset = 0;

function soundOn() {
  audio = new AudioContext();
  master = audio.createGain();
  master.gain.value = sounds.peak;
  const limiter = audio.createWaveShaper();
  limiter.curve = new Float32Array([-1, 1]); // a straight line that ends at either side
  limiter.connect(master).connect(audio.destination);
  master.input = limiter;
  cues = gainInto(limiter, 1);
  bus = gainInto(cues, 1);
  wave = audio.createPeriodicWave(
    new Float32Array(sounds.overtones.length + 1), new Float32Array([0, ...sounds.overtones]),
  );
  drone = audio.createOscillator();
  drone.setPeriodicWave(wave);
  droneGain = gainInto(cues, 0);
  drone.connect(droneGain);
  drone.start();
  kind = null;
}

function soundOff() {
  if (audio) audio.close();
  audio = null;
}

function gainInto(target, value) {
  const gain = audio.createGain();
  gain.gain.value = value;
  gain.connect(target);
  return gain;
}

// How loud a note is from beginning to end: it rises and falls like half a cosine, and dies away
// meanwhile if it is struck.
function envelope(note) {
  const [attack, release] = note.struck ? sounds.struck : sounds.held;
  const ramp = (part) => 0.5 - 0.5 * Math.cos(Math.PI * Math.min(1, Math.max(0, part)));
  return Float32Array.from({ length: CURVE_POINTS }, (_, i) => {
    const part = i / (CURVE_POINTS - 1);
    const time = part * note.seconds;
    const decay = note.struck ? Math.exp(-sounds.decay * part) : 1;
    return note.part * decay * ramp(time / attack) * ramp((note.seconds - time) / release);
  });
}

function play(note, start, target) {
  const oscillator = audio.createOscillator();
  const gain = gainInto(target, 0);
  oscillator.setPeriodicWave(wave);
  oscillator.frequency.value = note.pitch;
  if (note.sway) {
    const pitches = Float32Array.from({ length: CURVE_POINTS }, (_, i) =>
      note.pitch * 2 ** ((note.sway / 12) * Math.sin((2 * Math.PI * i) / (CURVE_POINTS - 1))));
    oscillator.frequency.setValueCurveAtTime(pitches, start, note.seconds);
  }
  gain.gain.setValueCurveAtTime(envelope(note), start, note.seconds);
  oscillator.connect(gain);
  oscillator.start(start);
  oscillator.stop(start + note.seconds);
}

// Signals once, with the cues turned down under them.
function ring(notes, delayS) {
  if (!audio || audio.state !== "running") return;
  const start = audio.currentTime + 0.01 + delayS;
  for (const note of notes) play(note, start + note.at, master.input);
  const last = notes[notes.length - 1];
  cues.gain.setTargetAtTime(sounds.beside, start - 0.01, 0.003);
  cues.gain.setTargetAtTime(1, start + last.at + last.seconds, 0.01);
}

// Ends what sounds of one kind of cue, smoothly.
function hush(now) {
  const old = bus;
  old.gain.setTargetAtTime(0, now, 0.003);
  setTimeout(() => old.disconnect(), 100);
  bus = gainInto(cues, 1);
}

function sound() {
  if (!audio || audio.state !== "running") return;
  const now = audio.currentTime;
  const cue = news && age() <= STALE_MS ? news.cue : null;
  const endless = cue !== null && cue.period === 0;
  const wanted = cue ? cue.kind : null;
  if (wanted !== kind) {
    kind = wanted;
    hush(now);
    nextOnset = now + 0.01;
    droneGain.gain.cancelScheduledValues(now);
    droneGain.gain.setTargetAtTime(endless ? cue.notes[0].part : 0, now, 0.015);
  }
  if (endless) drone.frequency.value = cue.notes[0].pitch;
  else if (cue) {
    nextOnset = Math.max(now, Math.min(nextOnset, now + cue.period));
    while (nextOnset < now + AHEAD_S) {
      for (const note of cue.notes) play(note, nextOnset + note.at, bus);
      nextOnset += cue.period;
    }
  }
}

// -- the person's own choices ----------------------------------------------------------------

// Kept in this browser, where it lets us.
function keep(key, value) {
  try { localStorage.setItem(key, value); } catch { /* private browsing: not kept */ }
}

function kept(key) {
  try { return localStorage.getItem(key); } catch { return null; }
}

// A choice made here stands until the assistant is started with another theme.
function theme(name) {
  root.dataset.theme = name;
  at("theme").textContent = texts["theme_" + name];
  keep("theme", settings.theme + " " + name);
}

// A switch's state, for the eye and for a screen reader.
function pressed(id, on) {
  at(id).setAttribute("aria-pressed", String(on));
  at(id).textContent = texts[id + (on ? "_on" : "_off")];
}

let awake = false;

// Only pages from a safe origin may keep the screen awake; elsewhere the person has to.
async function stayAwake() {
  try {
    await navigator.wakeLock.request("screen");
    awake = true;
  } catch {
    awake = false;
  }
  hint();
}

// What the person has to do, one thing at a time.
function hint() {
  put("status", vibrates && !touched() ? texts.tap : awake ? "" : texts.awake);
}

at("theme").addEventListener("click", () => {
  const themes = settings.themes;
  theme(themes[(themes.indexOf(root.dataset.theme) + 1) % themes.length]);
});
at("sound").addEventListener("click", () => {
  if (audio) soundOff();
  else soundOn();
  pressed("sound", audio !== null);
});
at("vibration").addEventListener("click", () => setVibration(!vibrates));
for (const order of ["mark", "who"]) {
  at(order).addEventListener("click", () => {
    const body = JSON.stringify({ order });
    fetch("order", { method: "POST", headers: { "Content-Type": "application/json" }, body })
      .catch(() => {}); // without a link the page says so already
  });
}
at("mark").hidden = !settings.mark;
at("pair").addEventListener("submit", (event) => {
  event.preventDefault();
  pair(at("code").value);
});
window.addEventListener("resize", fitAll);
document.addEventListener("pointerup", () => setTimeout(hint, 0));
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") stayAwake();
});
const [keptFor, keptTheme] = (kept("theme") || "").split(" ");
const ours = keptFor === settings.theme && settings.themes.includes(keptTheme);
theme(ours ? keptTheme : settings.theme);
if (canVibrate) {
  at("vibration").hidden = false;
  setVibration(kept("vibration") !== "off");
}
ground();

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
setInterval(happen, 25);
stayAwake();
start();
