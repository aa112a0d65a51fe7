// The microphone with all voice processing off, verified: what could not be switched off is told.
const OFF = ["echoCancellation", "noiseSuppression", "autoGainControl"];

export const hasMicrophone = () => Boolean(navigator.mediaDevices?.getUserMedia && window.AudioWorkletNode);

// Chromium changes its output to a timer after 30 s of exact silence, and loses samples of the microphone in doing so:
// a level at -180 dB is no silence, and nobody hears it.
function keepAwake(context) {
  const level = new ConstantSourceNode(context, { offset: 1e-9 });
  level.connect(context.destination);
  level.start();
}

export async function openMicrophone(worklet, heard, lost) {
  const audio = { channelCount: 1, ...Object.fromEntries(OFF.map((name) => [name, false])) };
  const stream = await navigator.mediaDevices.getUserMedia({ audio });
  const [track] = stream.getAudioTracks();
  const settings = track.getSettings();
  track.addEventListener("ended", lost);
  const context = new AudioContext({ latencyHint: "interactive" });
  await context.audioWorklet.addModule(worklet);
  const source = context.createMediaStreamSource(stream);
  const blocks = new AudioWorkletNode(context, "blocks", { numberOfInputs: 1, numberOfOutputs: 1 });
  blocks.port.onmessage = ({ data }) => heard(data);
  source.connect(blocks).connect(context.destination); // some browsers run only what is connected
  keepAwake(context);
  await context.resume();
  return {
    rateHz: context.sampleRate,
    on: OFF.filter((name) => settings[name] !== undefined && settings[name] !== false),
    unknown: OFF.filter((name) => settings[name] === undefined),
    close() {
      track.removeEventListener("ended", lost);
      for (const one of stream.getTracks()) one.stop();
      return context.close();
    },
  };
}
