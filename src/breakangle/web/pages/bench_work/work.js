// The timer of a step: counts on the screen, and is heard when what stands is ready, and when it has stood too long.
import { speak } from "../../frontend/src/speech/speak.js";

const timer = document.querySelector("#timer");
const clock = document.querySelector("#clock");
const words = document.querySelector("#clock-words");

function tone(times) {
  const context = new AudioContext();
  for (let one = 0; one < times; one += 1) {
    const sound = context.createOscillator();
    const loud = context.createGain();
    const at = context.currentTime + one * 0.35;
    sound.frequency.value = 660;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.3, at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.28);
    sound.connect(loud).connect(context.destination);
    sound.start(at);
    sound.stop(at + 0.3);
  }
}

function tell(text, times) {
  words.textContent = text;
  tone(times);
  if (timer.dataset.spoken === "on") speak(text);
}

if (timer && timer.dataset.state !== "not started") {
  const begun = performance.now() - 1000 * Number(timer.dataset.stood);
  const least = Number(timer.dataset.least);
  const most = Number(timer.dataset.most);
  let stage = timer.dataset.state === "standing" ? 0 : timer.dataset.state === "ready" ? 1 : 2;
  setInterval(() => {
    const stood = (performance.now() - begun) / 1000;
    clock.textContent = `${Math.floor(stood)} s`;
    if (stage === 0 && stood >= least) [stage] = [1, tell(timer.dataset.ready, 2)];
    if (stage === 1 && stood > most) [stage] = [2, tell(timer.dataset.late, 4)];
  }, 250);
}

// The step at hand, spoken when its page is shown: what to do, then its cautions.
const step = document.querySelector(".work-step[data-spoken=\"on\"]");
if (step) speak([...step.querySelectorAll(".do, .care")].map((one) => one.textContent.trim()).join(" "));
