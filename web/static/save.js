// Saves the picture beside a button as a file. The picture is in the page already, so nothing is fetched.
export function savePicture(button) {
  const image = button.parentElement.querySelector("img")
  button.hidden = false
  button.addEventListener("click", () => {
    const link = document.createElement("a")
    link.href = image.src
    link.download = button.dataset.save
    link.click()
  })
}
