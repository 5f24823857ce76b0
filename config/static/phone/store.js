// The phone's own store (IndexedDB), for the page and its worker alike; hence no import and no export.
// Where the browser refuses one, or a single row because the phone is full, the page gets the same in memory and says so.
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

  // The disk, with memory in front of it for each row that the disk refused. `full` once one was: those rows are lost
  // with the page, so it says so. A row the disk takes again leaves the memory.
  function withSpare(disk) {
    const gone = Symbol("removed");
    const spare = Object.fromEntries(Object.keys(STORES).map((name) => [name, new Map()]));
    const held = (name, id) => (spare[name].get(id) === gone ? undefined : spare[name].get(id));
    const keep = async (name, id, value, write) => {
      try {
        await write();
        spare[name].delete(id);
      } catch {
        spare[name].set(id, value);
        store.full = true;
      }
    };
    const store = {
      kind: "disk",
      full: false,
      get: (name, id) => (spare[name].has(id) ? Promise.resolve(held(name, id)) : disk.get(name, id)),
      all: async (name) => {
        const rows = (await disk.all(name)).filter((row) => !spare[name].has(row[STORES[name]]));
        return [...rows, ...[...spare[name].values()].filter((row) => row !== gone)];
      },
      put: (name, value) => keep(name, value[STORES[name]], value, () => disk.put(name, value)),
      remove: (name, id) => keep(name, id, gone, () => disk.remove(name, id)),
      change: async (name, id, act) => {
        if (!spare[name].has(id)) {
          let changed;
          const once = (row) => (changed = act(row));
          try {
            return await disk.change(name, id, once);
          } catch {
            if (changed) spare[name].set(id, changed);
            store.full = true;
            return undefined;
          }
        }
        const changed = act(held(name, id));
        return changed && store.put(name, changed);
      },
    };
    return store;
  }

  self.openPhoneStore = async () => {
    try {
      return withSpare(onDisk(await openDisk()));
    } catch {
      return inMemory();
    }
  };
})();
