// Sends what waits: photos one at a time in the order they were taken, and beside them the forms that make boards and
// set the bow, in their own order. Each has its own key, so that one sent twice is kept once. What fails for want of
// signal stays and is tried again; what the server refuses stays too, with its reason, until it is mended, sent again
// or thrown away. A photo of a board that is not made yet waits for it.
//
// Events: "change" whenever something looks different; "arrived" with { note, answer } when the server has something.
import { told } from "./lines.js"
import { Waiting, askToStay, newKey, roomFor } from "./waiting.js"

const PAUSES_S = [1, 3, 10, 30] // after the first failure in a row, the second, ...
const QUIET_S = 45 // nothing sent for so long: the connection is gone, though nobody said so
const FIND_S = 90 // a slow phone looks for the board in its photo, and asks where it is
const CHECK_S = 180 // the server looks at a photo that has arrived, after those before it
const FEW = 5 // room for fewer photos than this is told
const PHOTO_BYTES = 4e6 // of a phone's photo, before one was taken
const CUT_BYTES = 6e5 // smaller photos are sent whole
const FOUND = 0.2 // share of the way that is done when the board is found in a photo
const OLD_MS = 30 * 24 * 3600 * 1000 // after so long nobody opens the page of a board that was made

class Outbox extends EventTarget {
  notes = []
  room = Infinity
  #bytes = PHOTO_BYTES
  #made = new Map() // the server's ids of boards by the keys they were made with
  #waiting = new Waiting()
  #running = new Map()
  #lanes = [(note) => note.kind, (note) => !note.kind].map((takes) => ({ takes, working: false, failures: 0, timer: 0 }))
  #others = self.BroadcastChannel ? new BroadcastChannel("outbox") : null

  constructor() {
    super()
    this.ready = this.#waiting.open().then(() => this.#look()).then(() => this.#measure())
    if (this.#others) this.#others.onmessage = () => this.#look()
    const sendIfSeen = () => document.visibilityState === "visible" && this.send()
    addEventListener("online", () => this.send())
    document.addEventListener("visibilitychange", sendIfSeen)
    setInterval(sendIfSeen, PAUSES_S.at(-1) * 1000)
    this.send()
  }

  // Whether there is a place that outlives this page, and whether all that waits is there.
  get lasting() {
    return this.#waiting.lasting
  }

  get safe() {
    return this.lasting && !this.notes.some((note) => this.holds(note))
  }

  holds(note) {
    return this.#waiting.holds(note.key)
  }

  get nearlyFull() {
    return this.room < FEW
  }

  // How far something is: "turn" (others first), "sending", "checking", "signal" (no connection), "refused", or "held"
  // back by its board, which was refused.
  stage(note) {
    if (note.refused) return "refused"
    const running = this.#running.get(note.key)
    if (running) return running.sent ? "checking" : "sending"
    if (this.notes.some((other) => other.key === note.board && other.refused)) return "held"
    const lanes = this.#lanes.slice(0, note.kind ? 1 : 2) // photos may wait for their board
    return lanes.some((lane) => lane.failures) || !navigator.onLine ? "signal" : "turn"
  }

  share(note) {
    return this.#running.get(note.key)?.share ?? 0
  }

  // The id of a board on the server; of one that is not made yet, its key.
  home(board) {
    return this.#made.get(board) ?? board
  }

  note(key) {
    return this.notes.find((note) => note.key === key)
  }

  of(board, place) {
    return this.notes.filter((note) => this.isOf(note, board, place))
  }

  isOf(note, board, place = note.place) {
    return !note.kind && this.home(note.board) === this.home(board) && note.place === place
  }

  // Where it is seen, or mended.
  page(note) {
    if (note.kind === "bow") return "/bow"
    if (note.kind) return `/boards/${note.refused ? "new" : "waiting"}#${note.key}`
    return this.note(note.board) ? `/boards/waiting#${note.board}` : `/boards/${this.home(note.board)}`
  }

  async picture(note) {
    const bytes = await this.#waiting.bytes(note.key)
    return bytes && new Blob([bytes], { type: note.type })
  }

  // Keeps a photo and sends it when its turn has come; those it comes instead of are cancelled.
  async add(about, file, instead) {
    await this.ready
    const bytes = await file.arrayBuffer()
    const gone = instead ? this.of(about.board, about.place).map((note) => note.key) : []
    const late = () => gone.findLast((key) => this.#running.get(key)?.sent) // the server may have that one all the same
    const { name, type, size } = file
    const note = { ...about, key: newKey(), instead: late(), name, type, size, order: this.#order() }
    const kept = await this.#waiting.keep(note, bytes, gone)
    if (late() !== note.instead) await this.#waiting.renote({ ...note, instead: late() ?? note.instead })
    if (kept) gone.forEach((key) => this.#stop(key))
    await this.#look()
    await this.#measure()
    await this.#changed()
    this.send()
  }

  // Keeps a form, in place of others, and sends it; null when there is no place that outlives this page.
  async addForm(about, gone = []) {
    await this.ready
    const note = { ...about, key: newKey(), order: this.#order() }
    if (!(await this.#waiting.keep(note, null, gone))) return this.#waiting.forget(note.key).then(() => null)
    gone.forEach((key) => this.#stop(key))
    await this.#look()
    await this.#measure()
    await this.#changed()
    this.send()
    return note
  }

  // Throws something away, a board with its photos.
  async drop(key) {
    const keys = this.notes.filter((note) => note.key === key || note.board === key).map((note) => note.key)
    await this.#waiting.forget(...keys)
    keys.forEach((one) => this.#stop(one))
    await this.#changed()
  }

  // Sends what was refused once more, mended or when what was in its way is gone.
  async again(note, changes = {}) {
    await this.#waiting.renote({ ...note, ...changes, refused: undefined })
    await this.#changed()
    this.send()
  }

  async dropAll() {
    await this.ready
    const keys = [...this.notes.map((note) => note.key), ...this.#made.keys()]
    if (keys.length) await this.#waiting.forget(...keys)
    keys.forEach((key) => this.#stop(key))
    await this.#changed()
  }

  async send() {
    await this.ready
    if (navigator.onLine) await Promise.all(this.#lanes.map((lane) => this.#sendAll(lane)))
    this.#tell()
  }

  #order() {
    return Math.max(Date.now(), (this.notes.at(-1)?.order ?? 0) + 1)
  }

  #stop(key) {
    const running = this.#running.get(key)
    if (!running) return
    running.dropped = true
    running.stop.abort()
  }

  // Boards keep their order, and come after the bow that was set before them; photos come after their board.
  #waits(note) {
    const before = (other) => other.kind && other.order < note.order && (other.kind === "bow" || !other.refused)
    return this.notes.some((other) => (note.kind ? before(other) : other.key === note.board))
  }

  async #sendAll(lane) {
    if (lane.working) return
    lane.working = true
    clearTimeout(lane.timer)
    const tried = new Set() // once each: one that the server cannot take now holds up no other
    const open = (note) => lane.takes(note) && !note.refused && !tried.has(note.key) && !this.#waits(note)
    let pause = null
    try {
      for (let note; (note = this.notes.find(open)); ) {
        tried.add(note.key)
        const outcome = await this.#sendOne(note)
        if (outcome.arrived) lane.failures = 0
        if (outcome.pause !== undefined) {
          lane.failures += 1
          pause = outcome.pause ?? PAUSES_S[Math.min(lane.failures, PAUSES_S.length) - 1]
          if (lane.failures === 1) askToStay().catch(() => null)
        }
        await this.#look()
        if (outcome.lost) break
      }
    } finally {
      lane.working = false // with nothing awaited since the last look, so that nothing new is missed
      if (pause !== null) lane.timer = setTimeout(() => this.send(), pause * 1000)
      this.#tell()
    }
  }

  async #sendOne(note) {
    const { request, dropped } = await this.#post(note)
    if (dropped) return {}
    const answer = request && told(request)
    if (request?.status >= 200 && request.status < 300 && answer?.[note.kind ?? "photo"]) {
      await this.#arrived(note, answer)
      return { arrived: true }
    }
    if (request?.status >= 500 || request?.status === 429) {
      return { pause: Number(request.getResponseHeader("Retry-After")) || null }
    }
    if (answer?.code === "send_whole") return this.#sendOne(note) // the board's stretch alone did not show it
    if (request?.status >= 400 && answer?.text) {
      await this.#waiting.renote({ ...note, refused: answer.text, field: answer.field })
      await this.#changed()
      return {}
    }
    return { pause: null, lost: true }
  }

  async #arrived(note, answer) {
    if (note.kind === "board") await this.#waiting.renote({ key: note.key, order: note.order, made: answer.board })
    else await this.#waiting.forget(note.key)
    if (note.kind === "bow") { // boards that did not fit the one before may fit it
      for (const one of this.notes) if (one.kind === "board" && one.refused) await this.again(one)
    }
    await this.#look()
    await this.#measure()
    this.dispatchEvent(new CustomEvent("arrived", { detail: { note, answer } }))
    await this.#changed()
    if (note.kind) this.#sendAll(this.#lanes[1])
  }

  // Posts something, and gives up when nothing has moved for long; returns what became of it.
  async #post(note) {
    const running = { share: 0, sent: false, dropped: false, stop: new AbortController() }
    this.#running.set(note.key, running)
    let watch = 0
    const wait = (seconds) => {
      clearTimeout(watch)
      watch = setTimeout(() => running.stop.abort(), seconds * 1000)
    }
    const moved = (share, sent) => {
      Object.assign(running, { share, sent })
      wait(sent ? CHECK_S : QUIET_S)
      this.#tell()
    }
    moved(0, false)
    wait(note.kind ? QUIET_S : FIND_S)
    const action = note.action.replace("/boards/waiting/", `/boards/${this.home(note.board)}/`)
    try {
      const bytes = note.kind ? null : await this.#waiting.bytes(note.key)
      const { form, done } = note.kind ? formOf(note) : await photoForm({ ...note, action }, bytes, running.stop.signal)
      moved(done, false)
      running.request = await posted(action, form, running.stop.signal, (share, sent) => {
        moved(done + (1 - done) * share, sent)
      })
    } catch {
      // Nothing was sent, or it was stopped: there is no answer.
    }
    clearTimeout(watch)
    this.#running.delete(note.key)
    return running
  }

  async #look() {
    const all = await this.#waiting.notes()
    this.notes = all.filter((note) => !note.made)
    this.#made = new Map(all.filter((note) => note.made).map((note) => [note.key, note.made]))
    const old = all.filter((note) => note.made && note.order < Date.now() - OLD_MS)
    if (old.length) await this.#waiting.forget(...old.map((note) => note.key))
    for (const lane of this.#lanes) {
      if (!this.notes.some((note) => lane.takes(note) && !note.refused)) lane.failures = 0
    }
    this.#tell()
  }

  // How many more photos like the last one find room; not worth a question before anything waits.
  async #measure() {
    this.#bytes = this.notes.findLast((note) => note.size)?.size ?? this.#bytes
    if (this.notes.length || this.nearlyFull) this.room = await roomFor(this.#bytes)
  }

  async #changed() {
    await this.#look()
    this.#others?.postMessage("")
  }

  #tell() {
    this.dispatchEvent(new Event("change"))
  }
}

function formOf(note) {
  const form = new URLSearchParams(note.fields)
  form.set("once", note.key)
  return { form, done: 0 }
}

// A photo whole, or the board's stretch of it alone where it can be found.
async function photoForm(note, bytes, signal) {
  const cut = bytes.byteLength < CUT_BYTES ? null : await import("./cut.js").catch(() => null)
  const light = await cut?.lighten(note, bytes, { signal })
  const form = new FormData()
  form.set("key", note.key)
  if (note.instead && note.takesInstead) form.set("instead", note.instead)
  form.set("photo", light?.photo ?? new Blob([bytes], { type: note.type }), note.name)
  if (!light) return { form, done: 0 }
  form.set("around", light.around, "around.jpg")
  form.set("layout", light.layout)
  return { form, done: FOUND }
}

function posted(action, form, signal, moved) {
  const request = new XMLHttpRequest()
  request.open("POST", action)
  request.setRequestHeader("Accept", "application/json")
  request.upload.onprogress = (event) => moved(event.loaded / event.total, false)
  request.upload.onload = () => moved(1, true)
  signal.throwIfAborted()
  signal.addEventListener("abort", () => request.abort())
  return new Promise((resolve) => {
    request.onloadend = () => resolve(request)
    request.send(form)
  })
}

export const outbox = new Outbox()
