"""A browser whose voices are known: what would be spoken, and by which of them, is kept in `window.spoken`."""

VOICES = """([local]) => {
  window.spoken = [];
  const voices = [{ lang: 'en-US', localService: false, name: 'far' }];
  if (local) voices.push({ lang: 'en-GB', localService: true, name: 'here' });
  Object.defineProperty(window, 'speechSynthesis', { value: {
    getVoices: () => voices, addEventListener() {}, cancel() {},
    speak: (said) => window.spoken.push([said.voice?.name, said.text]),
  } });
  window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
}"""
