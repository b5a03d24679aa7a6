// The socket: what the server says goes to listeners by its kind; what the page says goes out. It comes back by itself
// when the server does, and says in plain words how things stand.

const AGAIN_MS = 1_500;

export class Link {
  #listeners = new Map();
  #socket = null;
  #status;

  constructor(status) {
    this.#status = status;
    this.#open();
  }

  /** Calls `listener` with every message of a kind; "picture" are the dash's 1024 bytes. */
  on(kind, listener) {
    this.#listeners.set(kind, listener);
    return this;
  }

  /** Says something, if anybody listens. */
  say(what, fields = {}) {
    if (this.#socket?.readyState !== WebSocket.OPEN) return false;
    this.#socket.send(JSON.stringify({ say: what, ...fields }));
    return true;
  }

  #open() {
    const socket = new WebSocket(`ws://${location.host}/socket`);
    socket.binaryType = "arraybuffer";
    socket.onopen = () => {
      this.#status.textContent = "Connected to this machine";
      this.#tell("open");
    };
    socket.onmessage = ({ data }) => {
      if (data instanceof ArrayBuffer) return this.#tell("picture", new Uint8Array(data));
      const says = JSON.parse(data);
      this.#tell(says.kind, says);
    };
    socket.onclose = ({ reason }) => {
      this.#status.textContent = "Not connected";
      this.#tell("lost", reason);
      setTimeout(() => this.#open(), AGAIN_MS);
    };
    this.#socket = socket;
  }

  #tell(kind, says) {
    this.#listeners.get(kind)?.(says);
  }
}
