// The Listen page: microphone to bench, and what the bench says to the screen, and aloud if wished.
import { hasMicrophone, openMicrophone } from "./parts/microphone.js";
import { Line } from "./parts/line.js";
import { Ruler } from "./parts/ruler.js";
import { startRecordings } from "./parts/recording.js";
import { speak as speakHere } from "../../frontend/src/speech/speak.js";

const find = (id) => document.getElementById(id);
const live = find("live");
const words = live?.dataset ?? {};
const MOST_TAKES = 12;
const kept = live ? `listen-${words.visit}` : "";
let microphone = null;
let line = null;
let awake = null;
let heardHz = [];
let level = { peak: 0, at: 0 };
let ruler = null;
let busy = "";

const since = () => sessionStorage.getItem(kept);
const state = (text) => { find("state").textContent = text; };

function speak(text) {
  if (words.spoken === "on") speakHere(text);
}

function hello() {
  const job = find("job").value;
  const begun = { rate_hz: microphone.rateHz, job };
  if (job === "settle") return { ...begun, string: Number(find("string").value), heard_hz: heardHz };
  if (job !== "notes") return { ...begun, string: Number(find("string").value), fret: Number(find("fret").value) };
  return { ...begun, order: find("order").value, since: since() };
}

const told = {
  asks(event) {
    find("asks").textContent = event.words;
    find("count").textContent = event.count;
    find("play").hidden = event.done;
    speak(event.say ?? event.words);
  },
  began() { live.classList.add("rings"); },
  rings(event) {
    find("reading-note").textContent = event.note;
    find("reading-words").textContent = event.words || "\u2013";
    find("reading-sure").textContent = event.sure || "\u00a0";
    ruler.show(event.cents, event.uncertainty ?? 0);
  },
  take(event) {
    live.classList.remove("rings");
    find("told").textContent = event.words;
    find("told").className = ["stored", "heard"].includes(event.outcome) ? "told leave" : "told care";
    find("keep").hidden = !event.can_keep;
    if (event.outcome === "stored") {
      find("take-back").disabled = find("job").value !== "notes";
      find("heard").dispatchEvent(new Event("stored"));
    } else speak(event.words);
    if (!event.html) return;
    find("takes").insertAdjacentHTML("afterbegin", event.html);
    while (find("takes").children.length > MOST_TAKES) find("takes").lastElementChild.remove();
  },
  settling(event) {
    live.classList.remove("rings");
    heardHz = event.heard_hz;
    find("play").hidden = true;
    find("string").value = event.string;
    find("asks").textContent = event.words;
    find("count").textContent = "";
    find("drifts").replaceChildren(...event.drifts.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    if (event.drifts.length) {
      find("told").textContent = event.done ? event.words : event.drifts.at(-1);
      find("told").className = event.done ? "told leave" : "told";
    }
    speak(event.say ?? event.words);
  },
  "taken-back"(event) {
    find("told").textContent = event.words;
    find("told").className = "told";
    find("take-back").disabled = true;
    find("keep").hidden = true;
    find("heard").dispatchEvent(new Event("stored"));
  },
  anew(event) { sessionStorage.setItem(kept, event.since); },
  trouble(event) {
    find("told").textContent = event.words;
    find("told").className = "told wrong";
  },
  closed(event) {
    busy = event.again ? event.words : "";
    state(event.words);
  },
};

function lineIs(how) {
  if (how === "open") {
    busy = "";
    state(live.classList.contains("away") ? words.micBack : words.micListening);
    live.classList.remove("away");
  } else if (how === "away") {
    live.classList.add("away");
    ruler.clear();
    state(busy || words.micWaiting);
  } else leave();
}

function showLevel(block) {
  for (const one of block) level.peak = Math.max(level.peak, Math.abs(one));
  if (performance.now() - level.at < 150) return;
  const decibels = 20 * Math.log10(Math.max(level.peak, 1e-4));
  find("level").value = decibels;
  find("level-words").textContent = level.peak > 0.98 ? words.micLoud : decibels < -60 ? words.micFaint : "";
  level = { peak: 0, at: performance.now() };
}

function heard(block) {
  showLevel(block);
  if (line && !line.send(block)) state(words.micSlow);
}

function processing() {
  const care = find("care");
  const on = microphone.on.map((name) => words[`micOn${name[0].toUpperCase()}${name.slice(1).toLowerCase()}`]);
  care.hidden = !on.length && !microphone.unknown.length;
  care.textContent = on.length ? `${words.micOn} ${on.join(", ")}.` : words.micUnknown;
}

function listening(yes) {
  for (const id of ["job", "order", "string", "fret"]) find(id).disabled = yes;
  const settles = find("job").value === "settle";
  find("start").hidden = yes;
  find("stop").hidden = !yes;
  find("now").hidden = !yes;
  find("moves").hidden = find("job").value !== "notes";
  find("drifts").hidden = !settles;
  find("next").toggleAttribute("data-next", yes);
}

async function leave() {
  const held = microphone;
  [microphone, line] = [null, null];
  live.classList.remove("rings", "away");
  listening(false);
  if (find("state").textContent === words.micListening) state(words.micStopped);
  await awake?.release?.().catch(() => {});
  await held?.close();
}

async function start() {
  state(words.micAsking);
  heardHz = [];
  find("start").disabled = true;
  try {
    microphone = await openMicrophone(words.worklet, heard, () => { state(words.micLost); line?.end(); });
  } catch (error) {
    const known = { NotAllowedError: words.micDenied, NotFoundError: words.micNone };
    state(known[error.name] ?? words.micTrouble);
    return;
  } finally {
    find("start").disabled = false;
  }
  processing();
  listening(true);
  find("takes").replaceChildren();
  find("told").textContent = "\u00a0";
  ruler = new Ruler(find("ruler"));
  line = new Line(words.socket, hello, (event) => told[event.event]?.(event), lineIs);
  awake = await navigator.wakeLock?.request("screen").catch(() => null);
}

function startLive() {
  live.hidden = !hasMicrophone();
  find("no-microphone").hidden = hasMicrophone();
  find("start").addEventListener("click", start);
  find("stop").addEventListener("click", () => line?.end());
  for (const id of ["next", "before", "keep", "take-back", "anew"]) find(id).addEventListener("click", () => line?.ask(id));
  find("job").addEventListener("change", showJob);
  showJob();
}

function showJob() {
  const job = find("job").value;
  find("order-field").hidden = job !== "notes";
  find("string-field").hidden = !["settle", "slide", "check"].includes(job);
  find("fret-field").hidden = job !== "check";
}

if (live) startLive();
startRecordings();
