"""How the site differs from the folder: its navigation, the pages from above docs/, and those made from docstrings.

MkDocs calls the functions ``on_...`` as it builds. The navigation is docs/index.md: each heading a section, each page that it
links to in its place there. A page that the index does not lead to is refused by `navigation`, which says what to do.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import textwrap
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parent.parent.parent
DOCS: Final = ROOT / "docs"
INDEX: Final = DOCS / "index.md"
#: What a section is for; the words by which a new page finds its place.
PLACES: Final = {
    "Start": "the first things to read, in order",
    "How to": "steps to one end, for who has a task",
    "Explanation": "why it is so, how it is modelled, where that is weak",
    "Reference": "to look something up",
    "For those who carry on": "decisions, and where code belongs",
}
#: Pages from above docs/, and where they stand on the site.
ABOVE: Final = {"README.md": "readme-page.md", "DEVELOPERS.md": "developers.md"}
#: Cells of tables are filled into lines, and the page is as wide as a command's output.
CSS: Final = """
.wy-nav-content { max-width: 62rem; }
.wy-table-responsive table td, .wy-table-responsive table th { white-space: normal; }
.rst-content h1, .rst-content h2, .rst-content h3 { overflow-wrap: anywhere; }
/* for everybody: links are told by a line too, and words stand out from their ground by 4.5 to 1 at the least (WCAG 2.2, 1.4.3) */
.rst-content p a, .rst-content li a, .rst-content td a, .rst-content dd a { text-decoration: underline; }
.wy-nav-content a, .wy-nav-content a:visited { color: #1a5f8a; }
.rst-content code { color: #9c2a17; }
.rst-content pre code { color: #16222e; }
.wy-nav-top, .wy-side-nav-search { background-color: #1a5f8a; }
.wy-nav-top a, .wy-side-nav-search a, .wy-side-nav-search > a { color: #fff; }
.wy-menu-vertical p.caption { color: #7fbde8; }
footer, footer p, .rst-content footer a { color: #4a5660; }
"""
_LINK: Final = re.compile(r"(\]\()([^)\s]+)(\))")


class MisplacedPageError(ValueError):
    """A page that has no place in the navigation, or two."""


# --- the navigation --------------------------------------------------------------------------------------------------


def sections(text: str) -> dict[str, list[str]]:
    """Of the text of the index: the pages under each of its headings, as paths from docs/, in order.

    >>> sections("# Pages\\n## Start\\n[a](a.md) and [b](b.md#part)\\n## How to\\n- [c](c.md)")
    {'Start': ['a.md', 'b.md'], 'How to': ['c.md']}
    """
    found: dict[str, list[str]] = {}
    here: list[str] = []
    for line in text.splitlines():
        if line.startswith("## "):
            here = found.setdefault(line.removeprefix("## ").strip(), [])
        for _, target, _ in _LINK.findall(line):
            page = target.partition("#")[0]
            if page.endswith(".md") and page not in here:
                here.append(page)
    return found


def navigation(text: str, pages: set[str]) -> dict[str, list[str]]:
    """The sections of the index, held against the pages there are. Raises `MisplacedPageError` for a page without a place, or with two.

    >>> navigation("## Start\\n[a](a.md)", {"a.md"})
    {'Start': ['a.md']}
    """
    found = sections(text)
    unknown = set(found) - set(PLACES)
    if unknown:
        raise MisplacedPageError(f"docs/index.md has the heading {sorted(unknown)[0]!r}; the places of a page are {_places()}")
    placed = [page for listed in found.values() for page in listed]
    for page in sorted(pages - set(placed)):
        raise MisplacedPageError(
            f"docs/{page} stands in no place of the site: add a line with a link to it to docs/index.md, "
            f"under the heading that fits: {_places()}"
        )
    for page in sorted({page for page in placed if placed.count(page) > 1}):
        raise MisplacedPageError(f"docs/{page} stands in two places of docs/index.md; a page has one, and other pages may link to it")
    return found


def _places() -> str:
    return "; ".join(f"{name} ({what})" for name, what in PLACES.items())


def pages() -> set[str]:
    """Every page in docs/ but the index itself, as paths from there."""
    return {path.relative_to(DOCS).as_posix() for path in DOCS.rglob("*.md")} - {"index.md"}


# --- what MkDocs calls -----------------------------------------------------------------------------------------------


def on_config(config: Any) -> Any:
    """The navigation from the index."""
    from mkdocs.exceptions import ConfigurationError

    nav: list[dict[str, Any]] = []
    try:
        found = navigation(INDEX.read_text(encoding="utf-8"), pages())
    except MisplacedPageError as error:
        raise ConfigurationError(str(error)) from None
    for name, listed in found.items():
        at: list[Any] = [ABOVE.get(page.removeprefix("../"), page) for page in listed]
        if name == "Start":
            at = [{"The pages": "index.md"}, "readme-page.md", *(page for page in at if page != "readme-page.md")]
        if name == "Reference":
            at.append({"The library": [{title: f"library/{page}"} for page, (title, _) in rooms().items()]})
        nav.append({name: at})
    config.nav = nav
    # headings get the addresses that they have where the repository is read
    config.mdx_configs.setdefault("toc", {})["slugify"] = lambda title, _: re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")
    return config


def on_files(files: Any, config: Any) -> Any:
    """The pages from above docs/, and those of the library."""
    from mkdocs.structure.files import File

    for source, target in ABOVE.items():
        files.append(File.generated(config, target, content=(ROOT / source).read_text(encoding="utf-8")))
    files.append(File.generated(config, "pages.css", content=CSS))
    for page, (title, module) in rooms().items():
        files.append(File.generated(config, f"library/{page}", content=room(title, module)))
    return files


def on_page_content(html: str, **_: Any) -> str:
    """Blocks that scroll sideways can be reached, and so scrolled, without a mouse."""
    return html.replace("<pre><code", '<pre><code tabindex="0"')


def on_page_markdown(markdown: str, page: Any, **_: Any) -> str:
    """Links that lead out of docs/ lead to the site's own page; a block that is a file shows the file's name."""
    here = page.file.src_uri
    above = here in ABOVE.values()
    depth = "../" * here.count("/")

    def led(found: re.Match[str]) -> str:
        target, hash_, anchor = found[2].partition("#")
        if re.match(r"[a-z]+:", target) or not target:
            return found[0]
        if above:
            target = ABOVE.get(target, target.removeprefix("docs/"))
        elif Path(target).name in ABOVE and (DOCS / here).parent.joinpath(target).resolve().parent == ROOT:
            target = depth + ABOVE[Path(target).name]
        return f"{found[1]}{target}{hash_}{anchor}{found[3]}"

    # links within code stay as they are
    parts = re.split(r"(^```.*?^```$)", markdown, flags=re.MULTILINE | re.DOTALL)
    made = "".join(part if part.startswith("```") else _LINK.sub(led, part) for part in parts)
    return re.sub(r"^```(\w+) file=(\S+)$", r"File `\2`:\n\n```\1", made, flags=re.MULTILINE)


# --- the library, from its docstrings --------------------------------------------------------------------------------


def rooms() -> dict[str, tuple[str, tuple[str, ...]]]:
    """The pages of the library: file name to title and the modules whose public names stand there."""
    physics = importlib.import_module("topend.physics")
    subjects = [f"topend.physics.{one.name}" for one in pkgutil.iter_modules(physics.__path__) if not one.ispkg]
    made: dict[str, tuple[str, tuple[str, ...]]] = {
        "topend.md": ("topend: the public names", ("topend",)),
        "measure.md": ("topend.measure: readings", ("topend.measure",)),
    }
    for name in subjects:
        if getattr(importlib.import_module(name), "__all__", None):
            made[f"physics-{name.rpartition('.')[2]}.md"] = (f"Formulas: {name.rpartition('.')[2].replace('_', ' ')}", (name,))
    return made


def room(title: str, modules: tuple[str, ...]) -> str:
    """A page: the docstrings of the public names of some modules."""
    lines = [f"# {title}", ""]
    for name in modules:
        module = importlib.import_module(name)
        lines += [as_markdown(inspect.getdoc(module) or ""), ""]
        for public in sorted(module.__all__, key=str.lower):
            value = getattr(module, public)
            if inspect.ismodule(value) or not callable(value):
                continue
            lines += [f"## {public}", "", *_signature(public, value), as_markdown(_own_words(value)), "", *_fields(value), ""]
    return "\n".join(lines)


def _own_words(value: Any) -> str:
    """The docstring; of a part without its fields, which stand in a table."""
    told = inspect.getdoc(value) or ""
    return told.partition("\n\nParameters\n")[0] if hasattr(value, "model_fields") else told


def _signature(name: str, value: Any) -> list[str]:
    if inspect.isclass(value):
        # a part takes its fields by name; they stand in a table
        return []
    try:
        signature = inspect.signature(value)
    except (TypeError, ValueError):
        return []
    shown = f"{name}{signature.replace(return_annotation=inspect.Signature.empty)}"
    shown = re.sub(r": '([^']*)'", r": \1", shown)
    return ["```text", *textwrap.wrap(shown, 96, subsequent_indent="    ", break_long_words=False), "```", ""]


def _fields(value: Any) -> list[str]:
    fields = getattr(value, "model_fields", None)
    if not inspect.isclass(value) or not fields:
        return []
    # what every part has is told once, of `Part`
    common = set(importlib.import_module("topend.parts").Part.model_fields) if value.__name__ != "Part" else set()
    listed = {name: made for name, made in fields.items() if name not in common}
    rows = [(f"`{name}`", "needed" if made.is_required() else _default(made), made.description or "") for name, made in listed.items()]
    cells = [" | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in row) for row in rows]
    return ["| field | default | meaning |", "|---|---|---|", *(f"| {row} |" for row in cells)]


def _default(made: Any) -> str:
    default = made.get_default(call_default_factory=False)
    if default is None or repr(default).startswith("Pydantic"):
        return "–"
    return f"`{getattr(default, 'text', None) or default!r}`"


def as_markdown(docstring: str) -> str:
    """A docstring as a page has it: examples as code, lists of parameters as lists, all else as it stands.

    >>> print(as_markdown("Area [m²].\\n\\nParameters\\n----------\\nbore : of the cylinder"))
    Area [m²].
    <BLANKLINE>
    **Parameters**
    <BLANKLINE>
    - `bore`: of the cylinder
    """
    made: list[str] = []
    for block in re.split(r"\n\s*\n", docstring.strip("\n")):
        lines = textwrap.dedent(block).splitlines()
        if not lines:
            continue
        if lines[0].startswith(">>> "):
            made.append("\n".join(["```pycon", *lines, "```"]))
        elif len(lines) > 1 and set(lines[1].strip()) == {"-"}:
            made.append(f"**{lines[0].strip()}**")
            items = _items(lines[2:])
            if items:
                made.append("\n".join(items))
        elif block.startswith("    "):
            made.append("\n".join(["```text", *lines, "```"]))
        else:
            made.append("\n".join(_plain(line) for line in lines))
    return "\n\n".join(made)


def _items(lines: list[str]) -> list[str]:
    items: list[str] = []
    for line in lines:
        name, colon, rest = line.partition(" : ")
        if line.startswith(" ") or not colon:
            if items:
                items[-1] += f" {_plain(line.strip())}"
            else:
                items.append(f"- {_plain(line.strip())}")
        else:
            items.append(f"- {', '.join(f'`{one.strip()}`' for one in name.split(','))}: {_plain(rest)}")
    return items


def _plain(line: str) -> str:
    """Signs that Markdown would take for its own, outside of code."""
    parts = re.split(r"(`+[^`]*`+)", line)
    return "".join(part if part.startswith("`") else re.sub(r"([*<])", r"\\\1", part) for part in parts)
