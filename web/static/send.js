// Sends the form in the background: shows how far the photos and the reading are, sends once, can be stopped.
import { LINES, isLines, whole } from "./lines.js"
import { Progress } from "./progress.js"
import { say } from "./words.js"

const LOST = say("The connection was lost. The photos are still chosen: send them once more.")
const TOO_LARGE = say("These photos are too large together. Choose fewer.")

export function sendWithProgress(form, showPage) {
  let request = null
  const view = new Progress(form, () => request?.abort(), say("Stop"))
  form.addEventListener("submit", (event) => {
    event.preventDefault()
    if (request) return
    if (chosenBytes(form) > Number(form.dataset.requestBytes)) return view.refuse(TOO_LARGE)
    request = send(form, view)
    request.onload = () => {
      const html = pageOf(request)
      view.rest()
      if (html) showPage(html)
      else view.refuse(LOST)
    }
    request.onerror = () => view.refuse(LOST)
    request.onabort = () => view.rest()
    request.onloadend = () => (request = null)
  })
}

function send(form, view) {
  const request = new XMLHttpRequest()
  const words = say("Sending the photos")
  request.open("POST", form.action)
  request.setRequestHeader("Accept", LINES)
  request.upload.onprogress = (event) => event.lengthComputable && view.step(words, event.loaded / event.total)
  request.upload.onload = () => view.step(say("The photos have arrived"))
  request.onprogress = () => view.step(whole(request).findLast((line) => line.step)?.step)
  request.send(new FormData(form))
  view.work(words)
  return request
}

function pageOf(request) {
  return isLines(request) ? whole(request).at(-1)?.page : request.responseText
}

function chosenBytes(form) {
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files])
  return files.reduce((sum, file) => sum + file.size, 0)
}
