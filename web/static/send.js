// Sends the form in the background: shows how far the photos and the reading are, sends once, can be stopped.
import { LINES, isLines, whole } from "./lines.js"

export function sendWithProgress(form, showPage) {
  const view = new ProgressView(form)
  let request = null

  form.addEventListener("submit", (event) => {
    event.preventDefault()
    if (request) return
    const bytes = chosenBytes(form)
    if (bytes > Number(form.dataset.requestBytes)) return view.refuse("These photos are too large together. Choose fewer.")
    request = send(form, view, (html) => {
      request = null
      view.rest()
      if (html) showPage(html)
      else view.refuse("The connection was lost. The photos are still chosen: send them once more.")
    })
    request.onabort = () => {
      request = null
      view.rest()
    }
  })
  form.querySelector("[data-stop]").addEventListener("click", () => request?.abort())
}

function send(form, view, finish) {
  const request = new XMLHttpRequest()
  request.open("POST", form.action)
  request.setRequestHeader("Accept", LINES)
  request.upload.onprogress = (event) => event.lengthComputable && view.sent(event.loaded / event.total)
  request.upload.onload = () => view.step("The photos have arrived")
  request.onprogress = () => {
    const step = whole(request).findLast((line) => line.step)?.step
    if (step) view.step(step)
  }
  request.onload = () => finish(pageOf(request))
  request.onerror = () => finish(null)
  request.send(new FormData(form))
  view.work()
  return request
}

function pageOf(request) {
  return isLines(request) ? whole(request).at(-1)?.page : request.responseText
}

function chosenBytes(form) {
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files])
  return files.reduce((sum, file) => sum + file.size, 0)
}

class ProgressView {
  #form
  #box
  #words
  #bar

  constructor(form) {
    this.#form = form
    this.#box = form.querySelector("[data-progress]")
    this.#words = form.querySelector("[data-progress-words]")
    this.#bar = form.querySelector("[data-progress-bar]")
  }

  work() {
    this.#button.disabled = true
    this.#box.hidden = false
    this.#problem.hidden = true
    this.#bar.value = 0
    this.step("Sending the photos")
    this.#box.scrollIntoView({ block: "nearest" })
    this.#box.querySelector("[data-stop]").focus({ preventScroll: true })
  }

  sent(share) {
    this.#bar.value = share
  }

  step(words) {
    // Written only when new, so that a screen reader says each step once.
    if (this.#words.textContent !== words) this.#words.textContent = words
    if (words !== "Sending the photos") this.#bar.removeAttribute("value")
  }

  rest() {
    this.#button.disabled = false
    this.#box.hidden = true
  }

  refuse(words) {
    this.#problem.textContent = words
    this.#problem.hidden = false
  }

  get #button() {
    return this.#form.querySelector("button[type=submit]")
  }

  get #problem() {
    return this.#form.querySelector("[data-send-problem]")
  }
}
