// Stands in for a worker of the search where a site is opened from a folder, for there browsers refuse one: its script
// runs in a hidden frame. Nothing is written into the frame but by calls, so that no script has to stand in it.
(() => {
  "use strict";
  if (location.protocol !== "file:") return;

  function loaded(inner, url) {
    return new Promise((resolve, reject) => {
      const script = inner.document.createElement("script");
      script.src = url;
      script.onload = resolve;
      script.onerror = reject;
      inner.document.body.append(script);
    });
  }

  window.Worker = class extends EventTarget {
    constructor(url) {
      super();
      this.frame = document.createElement("iframe");
      this.frame.hidden = true;
      document.body.append(this.frame);
      const inner = this.frame.contentWindow;
      // A frame may be given its first document late; written into, it keeps this one.
      inner.document.open();
      inner.document.write("<!doctype html><body>");
      inner.document.close();
      inner.postMessage = (data) => setTimeout(() => this.tell(new MessageEvent("message", { data })));
      inner.importScripts = (...urls) =>
        urls.reduce((before, one) => before.then(() => loaded(inner, one)), Promise.resolve());
      inner.addEventListener("error", ({ message, error }) => this.tell(new ErrorEvent("error", { message, error })));
      this.ready = loaded(inner, url);
      this.ready.catch(() => this.tell(new ErrorEvent("error", { message: `${url} could not be loaded` })));
    }

    tell(event) {
      this.dispatchEvent(event);
      const heard = this[`on${event.type}`];
      if (heard) heard.call(this, event);
    }

    postMessage(data) {
      const said = new MessageEvent("message", { data });
      this.ready.then(() => this.frame.contentWindow.dispatchEvent(said), () => {});
    }

    terminate() {
      this.frame.remove();
    }
  };
})();
