// Sends waiting photos one at a time, in the order they were taken, each with its own key, so that one sent twice is
// kept once. What fails for want of signal stays and is tried again; what the server refuses stays too, with
// its reason, until it is sent again or thrown away.
//
// Events: "change" whenever something looks different; "arrived" with { note, answer } when the server has a photo.
import { told } from "./lines.js"
import { Waiting, askToStay, newKey, roomFor } from "./waiting.js"

const PAUSES_S = [1, 3, 10, 30] // after the first failure in a row, the second, ...
const QUIET_S = 45 // nothing sent for so long: the connection is gone, though nobody said so
const CHECK_S = 180 // the server looks at a photo that has arrived, after those before it
const FEW = 5 // room for fewer photos than this is told

class Outbox extends EventTarget {
  notes = []
  room = Infinity
  #waiting = new Waiting()
  #ready
  #running = null
  #working = false
  #failures = 0
  #timer = 0
  #others = self.BroadcastChannel ? new BroadcastChannel("outbox") : null

  constructor() {
    super()
    this.#ready = this.#waiting.open().then(() => this.#look())
    if (this.#others) this.#others.onmessage = () => this.#look()
    const sendIfSeen = () => document.visibilityState === "visible" && this.send()
    addEventListener("online", () => this.send())
    document.addEventListener("visibilitychange", sendIfSeen)
    setInterval(sendIfSeen, PAUSES_S.at(-1) * 1000)
    this.send()
  }

  get lasting() {
    return this.#waiting.lasting
  }

  // How far a photo is: "turn" (others first), "sending", "checking", "signal" (no connection) or "refused".
  stage(note) {
    if (note.refused) return "refused"
    if (this.#running?.key === note.key) return this.#running.sent ? "checking" : "sending"
    return this.#failures || !navigator.onLine ? "signal" : "turn"
  }

  share(note) {
    return this.#running?.key === note.key ? this.#running.share : 0
  }

  of(board, place) {
    return this.notes.filter((note) => note.board === board && note.place === place)
  }

  async picture(note) {
    const bytes = await this.#waiting.bytes(note.key)
    return bytes && new Blob([bytes], { type: note.type })
  }

  // Keeps a photo and sends it when its turn has come; those it comes instead of are cancelled.
  async add(about, file, instead) {
    await this.#ready
    const bytes = await file.arrayBuffer()
    let late
    for (const note of instead ? this.of(about.board, about.place) : []) if (await this.drop(note.key)) late = note.key
    const order = Math.max(Date.now(), (this.notes.at(-1)?.order ?? 0) + 1)
    const note = { ...about, key: newKey(), instead: late, name: file.name, type: file.type, size: file.size, order }
    await this.#waiting.keep(note, bytes)
    this.room = await roomFor(file.size)
    await this.#changed()
    this.send()
  }

  // Throws a photo away; returns whether the server may have it all the same.
  async drop(key) {
    const late = this.#running?.key === key && this.#running.sent
    await this.#waiting.forget(key)
    if (this.#running?.key === key) this.#stop()
    await this.#changed()
    return late
  }

  // Sends a refused photo once more, when what was in its way is gone.
  async again(note) {
    await this.#waiting.renote({ ...note, refused: undefined })
    await this.#changed()
    this.send()
  }

  async dropAll() {
    await this.#ready
    await this.#waiting.forgetAll()
    if (this.#running) this.#stop()
    await this.#changed()
  }

  get nearlyFull() {
    return this.room < FEW
  }

  async send() {
    await this.#ready
    if (this.#working || !navigator.onLine) return this.#tell()
    this.#working = true
    clearTimeout(this.#timer)
    try {
      await this.#sendAll()
    } finally {
      this.#working = false
      this.#tell()
    }
  }

  #stop() {
    this.#running.dropped = true
    this.#running.request.abort()
  }

  async #sendAll() {
    const tried = new Set() // once each: one that the server cannot take now holds up no other
    const next = () => this.notes.find((note) => !note.refused && !tried.has(note.key))
    let pause = null
    for (let note; (note = next()); ) {
      tried.add(note.key)
      const outcome = await this.#sendOne(note)
      if (outcome.arrived) this.#failures = 0
      if (outcome.pause !== undefined) {
        this.#failures += 1
        pause = outcome.pause ?? PAUSES_S[Math.min(this.#failures, PAUSES_S.length) - 1]
        if (this.#failures === 1) askToStay().catch(() => null)
      }
      await this.#look()
      if (outcome.lost) break
    }
    this.#working = false // with nothing awaited since the last look, so that no new photo is missed
    if (pause !== null) this.#timer = setTimeout(() => this.send(), pause * 1000)
  }

  async #sendOne(note) {
    const bytes = await this.#waiting.bytes(note.key)
    if (!bytes) return {}
    const { request, dropped } = await this.#post(note, bytes)
    if (dropped) return {}
    const answer = told(request)
    if (request.status >= 200 && request.status < 300 && answer?.photo) {
      await this.#waiting.forget(note.key)
      this.room = await roomFor(note.size)
      this.notes = this.notes.filter((other) => other.key !== note.key)
      this.dispatchEvent(new CustomEvent("arrived", { detail: { note, answer } }))
      await this.#changed()
      return { arrived: true }
    }
    if (request.status >= 500 || request.status === 429) {
      return { pause: Number(request.getResponseHeader("Retry-After")) || null }
    }
    if (request.status >= 400 && answer?.text) {
      await this.#waiting.renote({ ...note, refused: answer.text })
      await this.#changed()
      return {}
    }
    return { pause: null, lost: true }
  }

  // Posts a photo, and gives up when nothing has moved for long; returns what became of it.
  #post(note, bytes) {
    const request = new XMLHttpRequest()
    const running = (this.#running = { key: note.key, request, share: 0, sent: false, dropped: false })
    const form = new FormData()
    form.set("key", note.key)
    if (note.instead && note.takesInstead) form.set("instead", note.instead)
    form.set("photo", new File([bytes], note.name, { type: note.type }))
    let watch = 0
    const wait = (seconds) => {
      clearTimeout(watch)
      watch = setTimeout(() => request.abort(), seconds * 1000)
    }
    request.open("POST", note.action)
    request.setRequestHeader("Accept", "application/json")
    request.upload.onprogress = (event) => {
      running.share = event.loaded / event.total
      wait(QUIET_S)
      this.#tell()
    }
    request.upload.onload = () => {
      running.sent = true
      wait(CHECK_S)
      this.#tell()
    }
    wait(QUIET_S)
    return new Promise((resolve) => {
      request.onloadend = () => {
        clearTimeout(watch)
        this.#running = null
        resolve(running)
      }
      request.send(form)
      this.#tell()
    })
  }

  async #look() {
    this.notes = await this.#waiting.notes()
    if (!this.notes.some((note) => !note.refused)) this.#failures = 0
    this.#tell()
  }

  async #changed() {
    await this.#look()
    this.#others?.postMessage("")
  }

  #tell() {
    this.dispatchEvent(new Event("change"))
  }
}

export const outbox = new Outbox()
