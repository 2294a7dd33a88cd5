// What this device holds, shared by pages and the worker: "waiting" records by their id, those "sent", and "facts".
self.phoneStore = (() => {
  const settled = (request) =>
    new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });

  function open() {
    const asked = indexedDB.open("coverstead", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("waiting", { keyPath: "uid" });
      asked.result.createObjectStore("sent", { keyPath: "uid" });
      asked.result.createObjectStore("facts", { keyPath: "name" });
    };
    return settled(asked);
  }

  // Runs `work` in one transaction that is on the disk before this resolves.
  async function within(names, mode, work) {
    const db = await open();
    try {
      const transaction = db.transaction(names, mode, { durability: "strict" });
      const over = new Promise((resolve, reject) => {
        transaction.oncomplete = resolve;
        transaction.onabort = () => reject(transaction.error);
      });
      const result = await work((name) => transaction.objectStore(name));
      await over;
      return result;
    } finally {
      db.close();
    }
  }

  return {
    all: (name) => within([name], "readonly", (store) => settled(store(name).getAll())),
    get: (name, key) => within([name], "readonly", (store) => settled(store(name).get(key))),
    put: (name, row) => within([name], "readwrite", (store) => settled(store(name).put(row))),
    remove: (name, key) => within([name], "readwrite", (store) => settled(store(name).delete(key))),
    // From waiting to sent, both or neither; the oldest beyond twenty are let go.
    sent: (row) =>
      within(["waiting", "sent"], "readwrite", async (store) => {
        store("waiting").delete(row.uid);
        await settled(store("sent").put(row));
        const every = await settled(store("sent").getAll());
        every.sort((one, other) => other.sent.localeCompare(one.sent));
        for (const old of every.slice(20)) store("sent").delete(old.uid);
      }),
  };
})();
