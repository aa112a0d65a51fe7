// Recordings of phones, turned into plain samples here where the browser can, so that the bench need not know the format.
const PLAIN = /\.(wav|flac|mp3|ogg|opus|aiff?|caf)$/i;

function wav(sound) {
  const count = sound.length;
  const channels = sound.numberOfChannels;
  const data = new DataView(new ArrayBuffer(44 + count * 2));
  const text = (at, words) => [...words].forEach((sign, index) => data.setUint8(at + index, sign.charCodeAt(0)));
  text(0, "RIFF");
  data.setUint32(4, 36 + count * 2, true);
  text(8, "WAVEfmt ");
  data.setUint32(16, 16, true);
  data.setUint16(20, 1, true);
  data.setUint16(22, 1, true);
  data.setUint32(24, sound.sampleRate, true);
  data.setUint32(28, sound.sampleRate * 2, true);
  data.setUint16(32, 2, true);
  data.setUint16(34, 16, true);
  text(36, "data");
  data.setUint32(40, count * 2, true);
  const parts = Array.from({ length: channels }, (_, one) => sound.getChannelData(one));
  for (let at = 0; at < count; at += 1) {
    let sum = 0;
    for (const part of parts) sum += part[at];
    data.setInt16(44 + at * 2, Math.round(Math.max(-1, Math.min(1, sum / channels)) * 32767), true);
  }
  return new Blob([data], { type: "audio/wav" });
}

async function plain(file) {
  if (PLAIN.test(file.name)) return file;
  try {
    const sound = await new OfflineAudioContext(1, 1, 48000).decodeAudioData(await file.arrayBuffer());
    return new File([wav(sound)], `${file.name.replace(/\.[^.]*$/, "")}.wav`, { type: "audio/wav" });
  } catch {
    return file; // the bench may know it, and says so when it does not
  }
}

export function startRecordings() {
  const form = document.querySelector("#bring");
  if (!form) return;
  const box = form.querySelector("input[type=file]");
  const told = form.querySelector("#bringing");
  const put = (files) => {
    const held = new DataTransfer();
    for (const one of files) held.items.add(one);
    box.files = held.files;
  };
  form.addEventListener("submit", async (event) => {
    if ([...box.files].every((one) => PLAIN.test(one.name))) return;
    event.preventDefault();
    told.textContent = told.dataset.turning;
    put(await Promise.all([...box.files].map(plain)));
    form.submit();
  });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    if (!event.dataTransfer?.files.length) return;
    put(event.dataTransfer.files);
    form.requestSubmit();
  });
}
