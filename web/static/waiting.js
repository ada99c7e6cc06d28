// Photos that are on their way, kept in the phone's own database until the server has them. What is known of each is
// kept apart from its bytes, so that a list of them is short. Without a database (some private windows) they are held
// in memory, as are those that the database has no room for.
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
  #memory = { [NOTES]: new Map(), [BYTES]: new Map() }

  async open() {
    this.#database = await opened().catch(() => null)
  }

  // Whether all of them outlive this page.
  get lasting() {
    return this.#database !== null && this.#memory[NOTES].size === 0
  }

  // Every note, the oldest first.
  async notes() {
    const all = this.#database ? await this.#do("readonly", (store) => store(NOTES).getAll()) : []
    return [...all, ...this.#memory[NOTES].values()].sort((one, other) => one.order - other.order)
  }

  async bytes(key) {
    return this.#memory[BYTES].get(key) ?? (this.#database && this.#do("readonly", (store) => store(BYTES).get(key)))
  }

  async keep(note, bytes) {
    const put = (store) => {
      store(BYTES).put(bytes, note.key)
      return store(NOTES).put(note, note.key)
    }
    const kept = this.#database && (await this.#do("readwrite", put).then(() => true, () => false))
    if (!kept) {
      this.#memory[NOTES].set(note.key, note)
      this.#memory[BYTES].set(note.key, bytes)
    }
  }

  // Writes down what became of a photo that stays.
  async renote(note) {
    if (this.#memory[NOTES].has(note.key)) this.#memory[NOTES].set(note.key, note)
    else await this.#do("readwrite", (store) => store(NOTES).put(note, note.key))
  }

  async forget(key) {
    this.#memory[NOTES].delete(key)
    this.#memory[BYTES].delete(key)
    const remove = (store) => {
      store(BYTES).delete(key)
      return store(NOTES).delete(key)
    }
    if (this.#database) await this.#do("readwrite", remove)
  }

  async forgetAll() {
    for (const note of await this.notes()) await this.forget(note.key)
  }

  // Tries twice, since some phones close the database while the page is in the background.
  #do(mode, work) {
    return this.#try(mode, work).catch(() => this.open().then(() => this.#try(mode, work)))
  }

  async #try(mode, work) {
    return new Promise((resolve, reject) => {
      const change = this.#database.transaction([NOTES, BYTES], mode)
      const asked = work((name) => change.objectStore(name))
      change.oncomplete = () => resolve(asked.result)
      change.onabort = change.onerror = () => reject(change.error)
    })
  }
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
