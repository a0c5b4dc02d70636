"""A drawing that grows downwards: shapes, texts and paragraphs, and how far down it has come."""

from html import escape

from overwinter.render.bench_labels import FONT, LINE, broken

INK, FAINT = "#111", "#555"


class Canvas:
    """Collects SVG; ``y`` is where the next thing goes, px."""

    def __init__(self, width: float) -> None:
        self.width = width
        self.y = 0.0
        self._shapes: list[str] = []

    def raw(self, svg: str) -> None:
        """Markup as it is."""
        self._shapes.append(svg)

    def rect(
        self, x: float, y: float, width: float, height: float, style: str, *, round_px: float = 0.0
    ) -> None:
        """A rectangle."""
        corner = f' rx="{round_px:g}"' if round_px else ""
        self.raw(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
            f"{corner} {style}/>"
        )

    def line(
        self, x1: float, y1: float, x2: float, y2: float, stroke_px: float, dash: str = ""
    ) -> None:
        """A straight line."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.raw(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" '
            f'stroke="{INK}" stroke-width="{stroke_px:g}"{dashed}/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        anchor: str = "middle",
        weight: str = "normal",
        turned: bool = False,
    ) -> None:
        """One line of text, its baseline at ``y``; ``turned`` reads upwards."""
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
        self.raw(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
            f'font-weight="{weight}"{turn}>{escape(words)}</text>'
        )

    def paragraph(self, words: str, size: float, *, weight: str = "normal") -> None:
        """Text over the whole width, wrapped, below what is there."""
        for line in broken(words, self.width, size):
            self.y += LINE * size
            self.text(0.0, self.y - 0.2 * size, line, size, anchor="start", weight=weight)
        self.y += 0.25 * size

    def hint(self, words: str) -> None:
        """What a pointer over the surrounding group shows."""
        self.raw(f"<title>{escape(words)}</title>")

    def svg(self, name: str, description: str, key: str) -> str:
        """The whole drawing."""
        width, height = f"{self.width:g}", f"{self.y:.0f}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="0 0 {width} {height}" role="img" '
            f'aria-labelledby="{key}-name {key}-text" '
            f'style="max-width:100%;height:auto" font-family="{FONT}" fill="{INK}">\n'
            f'<title id="{key}-name">{escape(name)}</title>\n'
            f'<desc id="{key}-text">{escape(description)}</desc>\n'
            f'<rect width="{width}" height="{height}" fill="#fff"/>\n'
            + "\n".join(self._shapes)
            + "\n</svg>\n"
        )
