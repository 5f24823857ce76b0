// The worker that keeps the page on the phone: set up, its size, and updates that ask before they are used.

export class Offline {
  constructor(ask) {
    this.ask = ask;
    this.size = 0;
    this.wakes = false;
    this.told = false;
  }

  async start() {
    if (!navigator.serviceWorker) return;
    let registration;
    try {
      registration = await navigator.serviceWorker.register("/phone/worker.js", { scope: "/phone/", updateViaCache: "none" });
    } catch {
      return; // no network, or the browser refuses: the page works as long as it is open
    }
    this.wakes = "sync" in registration;
    // Only when told: a page must not be loaded anew under somebody who is answering.
    navigator.serviceWorker.addEventListener("controllerchange", () => {
      if (this.told) location.reload();
    });
    if (registration.waiting) await this.#offer(registration.waiting);
    registration.addEventListener("updatefound", () => this.#follow(registration.installing));
    const ready = await navigator.serviceWorker.ready;
    this.size = await sizeOf(ready.active);
  }

  #follow(worker) {
    worker?.addEventListener("statechange", () => {
      if (worker.state === "installed" && navigator.serviceWorker.controller) this.#offer(worker);
    });
  }

  async #offer(worker) {
    this.ask(await sizeOf(worker), () => {
      this.told = true;
      worker.postMessage("use-now");
    });
  }
}

// What the worker's files weigh over the wire, told by itself; 0 when it doesn't answer.
function sizeOf(worker) {
  return new Promise((resolve) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = ({ data }) => resolve(data);
    setTimeout(() => resolve(0), 2000);
    worker.postMessage("size", [channel.port2]);
  });
}
