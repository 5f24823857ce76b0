// The phone's own store (IndexedDB), for the page and its worker alike; hence no import and no export.
// Where the browser refuses one, the page gets the same in memory and says so.
"use strict";

(() => {
  const NAME = "three-fifteen-phone";
  // outbox: sealed messages. kept: things encrypted on this phone, with the keys they need in `keys`.
  // clocks: instants of washing and nothing else. plain: what says nothing about anybody.
  const STORES = { outbox: "id", kept: "id", keys: "id", clocks: "about", plain: "id" };

  const answered = (request) =>
    new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });

  // On the disk before anything is called kept: a phone that dies the next second must not lose it.
  const written = (transaction) =>
    new Promise((resolve, reject) => {
      transaction.oncomplete = () => resolve();
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });

  function openDisk() {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) request.result.createObjectStore(name, { keyPath });
    };
    return answered(request);
  }

  function onDisk(database) {
    const write = (name, act) => {
      const transaction = database.transaction(name, "readwrite", { durability: "strict" });
      act(transaction.objectStore(name));
      return written(transaction);
    };
    const read = (name) => database.transaction(name).objectStore(name);
    return {
      kind: "disk",
      get: (name, id) => answered(read(name).get(id)),
      all: (name) => answered(read(name).getAll()),
      put: (name, value) => write(name, (store) => store.put(value)),
      remove: (name, id) => write(name, (store) => store.delete(id)),
      // Reads and writes in one go: `act` gets the row that is there, if any, and answers what it becomes.
      change: (name, id, act) =>
        write(name, (store) => {
          const request = store.get(id);
          request.onsuccess = () => {
            const changed = act(request.result);
            if (changed) store.put(changed);
          };
        }),
    };
  }

  function inMemory() {
    const rows = Object.fromEntries(Object.keys(STORES).map((name) => [name, new Map()]));
    return {
      kind: "memory",
      get: async (name, id) => rows[name].get(id),
      all: async (name) => [...rows[name].values()],
      put: async (name, value) => void rows[name].set(value[STORES[name]], value),
      remove: async (name, id) => void rows[name].delete(id),
      change: async (name, id, act) => {
        const changed = act(rows[name].get(id));
        if (changed) rows[name].set(id, changed);
      },
    };
  }

  self.openPhoneStore = async () => {
    try {
      return onDisk(await openDisk());
    } catch {
      return inMemory();
    }
  };
})();
