/** The receipt's button: the printer, or a file, by the browser's own dialog. */
document.querySelector("button")?.addEventListener("click", () => window.print());
