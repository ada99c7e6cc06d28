// The page of a board that waits for signal: its photos are kept on this phone, and go to the board once it is made.
import { outbox } from "./outbox.js"
import { made } from "./progress.js"
import { say } from "./words.js"

export async function showLocal(template) {
  addEventListener("hashchange", () => location.reload()) // the next board, at the same address
  await outbox.ready
  const key = location.hash.slice(1)
  const note = outbox.note(key)
  if (!note && outbox.home(key) !== key) return location.replace(`/boards/${outbox.home(key)}`)
  const main = document.querySelector("main")
  if (note) main.dataset.board = key
  main.replaceChildren((note ? template : document.querySelector("[data-waiting-none]")).content.cloneNode(true))
  if (!note) return
  new LocalBoard(main, note)
  document.dispatchEvent(new CustomEvent("fresh", { detail: main }))
}

class LocalBoard {
  #main
  #key
  #state
  #choosing = false // a photo is being taken or chosen: the page has to stay

  constructor(main, { key, words, size }) {
    this.#main = main
    this.#key = key
    this.#state = main.querySelector("[data-waiting-state]")
    main.querySelector(".name").textContent = words
    main.querySelector("[data-waiting-size]").textContent = size || say("Of the same size as the board before")
    document.title = `${words} · Stavesight`
    main.addEventListener("click", ({ target }) => (this.#choosing ||= target.type === "file"))
    for (const end of ["change", "cancel"]) main.addEventListener(end, () => (this.#choosing = false), true)
    main.querySelector("[data-waiting-drop]").addEventListener("click", () => this.#drop(words))
    outbox.addEventListener("change", () => this.#show())
    this.#show()
  }

  #show() {
    const note = outbox.note(this.#key)
    const home = outbox.home(this.#key)
    if (note?.refused) return this.#tell(say("Needs another look"), note.refused, outbox.page(note), say("Mend it"))
    if (note) return this.#tell(say("Waits for signal"), "") // what that means stands on top of every page
    if (home === this.#key) return
    this.#tell(say("Sent"), say("The board was sent. Its photos follow."), `/boards/${home}`, say("See this board"))
    const busy = this.#choosing || document.querySelector("dialog[open], [data-state=keeping]")
    if (!busy && !outbox.notes.some((photo) => outbox.isOf(photo, home))) location.replace(`/boards/${home}`)
  }

  // Written only when new, so that a screen reader says each thing once.
  #tell(heading, words, address = "", way = "") {
    this.#main.querySelector("h1").textContent = heading
    this.#state.hidden = !words
    if (this.#state.dataset.told === words) return
    this.#state.dataset.told = words
    this.#state.replaceChildren(words)
    if (!address) return
    const link = made("a", "", way)
    link.href = address
    this.#state.append(" ", link)
  }

  async #drop(words) {
    if (!confirm(say("Throw away {board} with its photos?", { board: words }))) return
    await outbox.drop(this.#key)
    location.assign("/")
  }
}
