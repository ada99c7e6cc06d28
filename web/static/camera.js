// Offers a live picture with a guide wherever a shot has a button for it: on a secure address, on a phone with a
// camera. The rest is fetched when the button is pressed; the phone's own camera is never in its way.
let asked = null

export async function offerCamera(button) {
  button.addEventListener("click", async () => (await import("./camera_view.js")).openCamera(button))
  button.hidden = !(await (asked ??= hasCamera()))
}

async function hasCamera() {
  const devices = await navigator.mediaDevices?.enumerateDevices().catch(() => [])
  return Boolean(devices?.some((device) => device.kind === "videoinput"))
}
