// Speaks a sentence with a voice that the browser marks as its own, on this device; without one nothing is spoken.
const LONGEST_WAIT_MS = 1500;

const plain = (language) => language.toLowerCase().split(/[-_]/)[0];

function localVoice(language) {
  return speechSynthesis.getVoices().find((voice) => voice.localService && plain(voice.lang) === plain(language)) ?? null;
}

function voicesThere() {
  if (speechSynthesis.getVoices().length) return Promise.resolve();
  return new Promise((ready) => {
    speechSynthesis.addEventListener("voiceschanged", ready, { once: true });
    setTimeout(ready, LONGEST_WAIT_MS);
  });
}

export async function speak(text) {
  if (!("speechSynthesis" in window) || !text) return false;
  await voicesThere();
  const voice = localVoice(document.documentElement.lang || "en");
  if (!voice) return false;
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(text);
  said.voice = voice;
  said.lang = voice.lang;
  speechSynthesis.speak(said);
  return true;
}
