// The line to the bench: says hello, sends blocks, and comes back by itself when the bench was away.
const AGAIN_MS = 1000;
const MOST_WAITING = 4_000_000;

export class Line {
  constructor(path, hello, told, state) {
    Object.assign(this, { path, hello, told, state, open: false, ended: false });
    this.connect();
  }

  connect() {
    const url = new URL(this.path, location.href);
    url.protocol = url.protocol.replace("http", "ws");
    this.socket = new WebSocket(url);
    this.socket.binaryType = "arraybuffer";
    this.socket.onopen = () => {
      this.open = true;
      this.socket.send(JSON.stringify(this.hello()));
      this.state("open");
    };
    this.socket.onmessage = ({ data }) => {
      const event = JSON.parse(data);
      if (event.event === "closed" && !event.again) this.ended = true;
      this.told(event);
    };
    this.socket.onclose = () => {
      this.open = false;
      if (this.ended) return this.state("ended");
      this.state("away");
      this.timer = setTimeout(() => this.connect(), AGAIN_MS);
    };
  }

  send(block) {
    if (!this.open) return true;
    if (this.socket.bufferedAmount > MOST_WAITING) return false;
    this.socket.send(block);
    return true;
  }

  ask(what) {
    if (this.open) this.socket.send(JSON.stringify({ do: what }));
  }

  end() {
    this.ended = true;
    clearTimeout(this.timer);
    if (this.open) this.ask("stop");
    else this.state("ended");
  }
}
