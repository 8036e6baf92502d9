// Search of a site that is opened from disk. A browser then neither fetches the index nor starts a worker, because pages of
// file: have no common origin; scripts it does load. So the index is a script as well, and the worker runs in a hidden frame.
if (location.protocol === "file:") {
  const here = document.currentScript.src;

  const load = (page, address) =>
    new Promise((resolve, reject) => {
      const script = page.createElement("script");
      script.src = address;
      script.onload = resolve;
      script.onerror = reject;
      page.head.append(script);
    });

  window.__search = {
    index: load(document, new URL("../search/search_index.js", here).href).then(() => window.searchIndex),
  };

  window.Worker = class extends EventTarget {
    constructor(address) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.body.append(frame);
      this.frame = frame.contentWindow;
      this.frame.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      this.ready = load(frame.contentDocument, new URL(address, location.href).href);
    }

    postMessage(data) {
      this.ready.then(() => this.frame.dispatchEvent(new MessageEvent("message", { data })));
    }
  };
}
