// The camera itself: opened, its light, and one sharp photo out of it.
import { say } from "./words.js"

const TAKING_MS = 6000 // some phones never answer when asked for a full photo
const SHARP_PX = 2500 // longer side of a photo that shows the grain of a whole board

export async function openedCamera() {
  const video = { facingMode: "environment", width: { ideal: 4032 }, height: { ideal: 3024 } }
  const stream = await navigator.mediaDevices.getUserMedia({ video, audio: false })
  const [track] = stream.getVideoTracks()
  const taker = globalThis.ImageCapture && new ImageCapture(track)
  const able = await taker?.getPhotoCapabilities().catch(() => null)
  const most = { imageWidth: able?.imageWidth?.max, imageHeight: able?.imageHeight?.max }
  const { width, height } = track.getSettings()
  const photo_px = Math.max(width, height, most.imageWidth || 0, most.imageHeight || 0)
  const settings = most.imageWidth && most.imageHeight ? most : undefined
  return { stream, track, taker, settings, photo_px, sharp: photo_px >= SHARP_PX }
}

// What to do when the camera does not open.
export function troubleOf(error) {
  if (error.name === "NotAllowedError") {
    return say("This page may not use the camera: allow it in the browser’s settings, or use the phone’s own camera.")
  }
  if (error.name === "NotFoundError") return say("No camera was found: choose from photos instead.")
  return say("The camera does not open: close other apps that use it, or use the phone’s own camera.")
}

export const hasLight = ({ track }) => Boolean(track.getCapabilities?.().torch)

export const setLight = ({ track }, on) => track.applyConstraints({ advanced: [{ torch: on }] })

// A photo as large as the phone gives it. Where it gives none, or only a frame of the live picture as a PNG, which is
// large, the live picture as it is.
export async function takePhoto({ taker, settings }, video) {
  const late = new Promise((_, fail) => setTimeout(() => fail(new Error("late")), TAKING_MS))
  const taken = taker && (await Promise.race([taker.takePhoto(settings), late]).catch(() => null))
  return taken?.size && taken.type !== "image/png" ? taken : frameOf(video)
}

async function frameOf(video) {
  const canvas = document.createElement("canvas")
  canvas.width = video.videoWidth
  canvas.height = video.videoHeight
  canvas.getContext("2d").drawImage(video, 0, 0)
  const photo = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92))
  if (!photo) throw new Error("no picture yet")
  return photo
}
