//go:build proof

package main

// chartContrast finds the words of charts that do not stand out. The
// accessibility engine leaves words in SVG undecided, so they are measured here:
// the fill of the words against the topmost rectangle, circle or path drawn
// before them under their middle, or else what is behind the chart. The ratio
// and its 4.5 are those of WCAG 2.2, success criterion 1.4.3; large words are
// held to it too.
const chartContrast = `(() => {
	const canvas = new OffscreenCanvas(1, 1).getContext("2d", {willReadFrequently: true});
	const over = (color, opacity, back) => { // painted by the browser itself, whatever way a color is written
		canvas.globalAlpha = 1; canvas.fillStyle = back; canvas.fillRect(0, 0, 1, 1);
		canvas.globalAlpha = opacity; canvas.fillStyle = color; canvas.fillRect(0, 0, 1, 1);
		const [r, g, b] = canvas.getImageData(0, 0, 1, 1).data;
		return "rgb(" + [r, g, b].join(",") + ")";
	};
	const luminance = color => color.match(/\d+/g).map(v => v / 255).map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
		.reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
	const contrast = (a, b) => { const [x, y] = [luminance(a), luminance(b)]; return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05); };
	const behind = el => {
		const chain = [];
		for (let e = el; e; e = e.parentElement) chain.unshift(e);
		const dark = matchMedia("(prefers-color-scheme: dark)").matches && getComputedStyle(document.documentElement).colorScheme.includes("dark");
		return chain.reduce((back, e) => over(getComputedStyle(e).backgroundColor, 1, back), dark ? "rgb(18,18,18)" : "rgb(255,255,255)");
	};
	const opacity = (el, own, svg) => {
		let o = parseFloat(getComputedStyle(el)[own]);
		for (let e = el; e && e !== svg; e = e.parentElement) o *= parseFloat(getComputedStyle(e).opacity);
		return o;
	};
	const wrong = [];
	for (const svg of document.querySelectorAll("svg")) {
		let back = behind(svg);
		for (const words of svg.querySelectorAll("text")) {
			const box = words.getBoundingClientRect(), style = getComputedStyle(words);
			if (!words.textContent.trim() || box.width === 0 || style.visibility === "hidden") continue;
			const x = box.x + box.width / 2, y = box.y + box.height / 2;
			let ground = back;
			for (const shape of svg.querySelectorAll("rect, circle, path, polygon")) {
				if (!(shape.compareDocumentPosition(words) & Node.DOCUMENT_POSITION_FOLLOWING)) continue;
				const fill = getComputedStyle(shape).fill;
				if (fill === "none" || fill.startsWith("url")) continue;
				const at = new DOMPoint(x, y).matrixTransform(shape.getScreenCTM().inverse());
				if (shape.isPointInFill(at)) ground = over(fill, opacity(shape, "fillOpacity", svg), ground);
			}
			const ratio = contrast(over(style.fill, opacity(words, "fillOpacity", svg), ground), ground);
			if (ratio < 4.5) wrong.push("chart words of contrast " + ratio.toFixed(2) + ": " + words.textContent.trim());
		}
	}
	return wrong;
})()`
