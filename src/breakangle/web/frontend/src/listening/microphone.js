// The microphone with all voice processing off, verified: what could not be switched off is told.
const OFF = ["echoCancellation", "noiseSuppression", "autoGainControl"];

export const hasMicrophone = () => Boolean(navigator.mediaDevices?.getUserMedia && window.AudioWorkletNode);

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
  const silent = context.createGain();
  silent.gain.value = 0;
  blocks.port.onmessage = ({ data }) => heard(data);
  source.connect(blocks).connect(silent).connect(context.destination); // some browsers run only what is connected
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
