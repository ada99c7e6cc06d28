// What is on its way, kept in the phone's own database until the server has it. What is known of each is kept apart
// from its bytes, so that a list of them is short. Without a database (some private windows) it is held in memory, as
// is what the database has no room for.
const NAME = "stavesight"
const NOTES = "notes"
const BYTES = "bytes"

// Short enough for the server and never the same twice; the first way is there on https and localhost alone.
export function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID()
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("")
}

export class Waiting {
  #database = null
  #held = new Map() // notes and bytes in memory

  async open() {
    this.#database = await opened().catch(() => null)
  }

  // Whether there is a place that outlives this page.
  get lasting() {
    return this.#database !== null
  }

  // Whether something is lost with this page.
  holds(key) {
    return this.#held.has(key)
  }

  // Every note, the oldest first.
  async notes() {
    const all = this.#database ? await this.#do("readonly", (store) => store(NOTES).getAll()) : []
    const held = [...this.#held.values()].map(({ note }) => note)
    return [...all, ...held].sort((one, other) => one.order - other.order)
  }

  async bytes(key) {
    if (this.#held.has(key)) return this.#held.get(key).bytes
    return this.#database && this.#do("readonly", (store) => store(BYTES).get(key))
  }

  // Keeps a note, and its bytes if it has any, in place of others: all of it or, where there is no room, nothing, so
  // that what was kept before stays.
  async keep(note, bytes, gone = []) {
    const change = (store) => {
      gone.forEach((key) => remove(store, key))
      if (bytes) store(BYTES).put(bytes, note.key)
      return store(NOTES).put(note, note.key)
    }
    const kept = this.#database && (await this.#do("readwrite", change).then(() => true, () => false))
    if (kept) gone.forEach((key) => this.#held.delete(key))
    else this.#held.set(note.key, { note, bytes })
    return kept
  }

  // Writes down what became of one that stays.
  async renote(note) {
    if (this.#held.has(note.key)) this.#held.get(note.key).note = note
    else await this.#do("readwrite", (store) => store(NOTES).put(note, note.key))
  }

  async forget(...keys) {
    keys.forEach((key) => this.#held.delete(key))
    if (this.#database) await this.#do("readwrite", (store) => keys.map((key) => remove(store, key)).at(-1))
  }

  // Tries twice, since some phones close the database while the page is in the background.
  #do(mode, work) {
    return this.#try(mode, work).catch((fault) => {
      if (fault?.name === "QuotaExceededError") throw fault
      return this.open().then(() => this.#try(mode, work))
    })
  }

  async #try(mode, work) {
    return new Promise((resolve, reject) => {
      const change = this.#database.transaction([NOTES, BYTES], mode)
      change.oncomplete = () => resolve(asked?.result)
      change.onabort = change.onerror = () => reject(change.error)
      let asked
      try {
        asked = work((name) => change.objectStore(name))
      } catch (fault) {
        reject(fault)
        change.abort() // else the part done so far would stay
      }
    })
  }
}

function remove(store, key) {
  store(BYTES).delete(key)
  return store(NOTES).delete(key)
}

function opened() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1)
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore(NOTES)
      asked.result.createObjectStore(BYTES)
    }
    asked.onsuccess = () => resolve(asked.result)
    asked.onerror = () => reject(asked.error)
  })
}

// How many more photos of this size fit, when the browser tells.
export async function roomFor(bytes) {
  if (!navigator.storage?.estimate) return Infinity
  const { quota, usage } = await navigator.storage.estimate()
  return Math.floor((quota - usage) / bytes)
}

export async function askToStay() {
  if (navigator.storage?.persist && !(await navigator.storage.persisted())) await navigator.storage.persist()
}
