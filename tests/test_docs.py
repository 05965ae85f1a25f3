"""What the pages say is so: verbs, exit codes, presets, sources, links and examples."""

from __future__ import annotations

import importlib
import re
import tokenize
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import cropper
from cropper import errors
from cropper.cli.batches import EXIT_STOPPED
from cropper.cli.main import OLD_NAMES, VERBS
from cropper.cli.main import cropper as command
from cropper.destination.presets import load_presets
from cropper.proposal.rules import RULES
from cropper.proposal.rules.rule import Axis, Rule
from cropper.publication.outlets import STARTER, Outlets

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
SOURCES = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
IDS = set(re.findall(r"^\| ([A-Za-z0-9_]+) \|", SOURCES, re.MULTILINE)) - {"id", "status"}
CITED = re.compile(r"(?<!\])\[([a-z][A-Za-z0-9_]*(?:, [a-z][A-Za-z0-9_]*)*)\](?!\()")
"""``[mm_px, half_trap]``: words in brackets that are no link."""


def notes(file: Path) -> list[str]:
    """The comments and docstrings of a file."""
    if file.suffix == ".toml":
        return re.findall(r"#.*", file.read_text(encoding="utf-8"))
    with file.open("rb") as code:
        tokens = list(tokenize.tokenize(code.readline))
    texts = {tokenize.COMMENT, tokenize.STRING}
    return [token.string.strip('"#') for token in tokens if token.type in texts]


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_stands_in_the_readme(verb: str) -> None:
    assert re.search(rf"^\| `cropper {verb}[ `]", README, re.MULTILINE)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_explains_itself_and_each_of_its_options(verb: str) -> None:
    told = CliRunner().invoke(command, [verb, "--help"])
    assert told.exit_code == errors.EXIT_DONE
    assert "Usage:" in told.output
    loaded = importlib.import_module(f"cropper.cli.{verb}").command
    silent = [
        name
        for param in loaded.params
        for name in param.opts
        if name.startswith("-") and not param.help
    ]
    assert loaded.help
    assert not silent


def test_every_page_stands_in_the_index() -> None:
    docs = ROOT / "docs"
    index = (docs / "index.md").read_text(encoding="utf-8")
    pages = {str(page.relative_to(docs)) for page in docs.rglob("*.md")} - {"index.md"}
    assert {page for page in pages if f"({page})" not in index} == set()


@pytest.mark.parametrize("verb", VERBS)
def test_the_page_of_exit_codes_names_every_verb_that_gives_a_code_of_its_own(verb: str) -> None:
    page = (ROOT / "docs/reference/exit-codes.md").read_text(encoding="utf-8")
    assert re.search(rf"`(cropper )?{verb}[` ]", page)


def test_a_verb_that_is_misspelt_is_answered_with_the_one_that_was_meant() -> None:
    told = CliRunner().invoke(command, ["plna"])
    assert told.exit_code == errors.EXIT_MISUSED
    assert "there is no verb 'plna'. Did you mean 'plan'?" in told.stderr


def test_every_exit_code_is_listed_with_its_meaning() -> None:
    codes = {value for name, value in vars(errors).items() if name.startswith("EXIT_")}
    listed = re.findall(r"^\| (\d+) \| \S", README, re.MULTILINE)
    assert {int(code) for code in listed} == codes | {EXIT_STOPPED}
    assert len(listed) == len(codes) + 1


def test_the_precedence_of_exit_codes_is_told_as_it_is() -> None:
    order = [str(code) for code in errors.PRECEDENCE if code]
    assert " > ".join(order) in README


def test_every_preset_loads_and_is_found_by_its_name() -> None:
    folder = ROOT / "presets"
    written = {
        name
        for file in folder.glob("*.toml")
        for name in tomllib.loads(file.read_text(encoding="utf-8"))
    }
    assert written == {one.name for one in load_presets().destinations}
    assert len(written) >= 20


def test_every_source_cited_on_a_page_stands_in_the_list_of_sources() -> None:
    missing = {
        f"{page.name}: {key}"
        for page in PAGES
        for cited in CITED.findall(without_code(page.read_text(encoding="utf-8")))
        for key in cited.split(", ")
        if key not in IDS
    }
    assert not missing


def test_every_source_cited_in_code_and_presets_stands_in_the_list() -> None:
    """Ids with an underscore only: a plain word in brackets may be an example."""
    files = [*(ROOT / "presets").glob("*.toml"), *(ROOT / "cropper").rglob("*.py")]
    missing = {
        f"{file.name}: {key}"
        for file in files
        for note in notes(file)
        for cited in re.findall(r"(?:^|[ (])\[([a-z0-9_]+(?:, [a-z0-9_]+)*)\]", note)
        for key in cited.split(", ")
        if "_" in key and key not in IDS
    }
    assert not missing


def test_every_published_source_in_the_bibliography_is_in_the_list() -> None:
    bib = (ROOT / "docs" / "sources.bib").read_text(encoding="utf-8")
    keys = re.findall(r"^@\w+\{([A-Za-z0-9_]+),", bib, re.MULTILINE)
    assert len(keys) == len(set(keys))
    assert set(keys) <= IDS


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_somewhere(page: Path) -> None:
    text = without_code(page.read_text(encoding="utf-8"))
    links = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text)
    dead = [link for link in links if "://" not in link and not (page.parent / link).exists()]
    assert not dead


def test_the_outlets_on_the_page_are_read_by_the_program() -> None:
    page = (ROOT / "docs/explanation/which-version-goes-where.md").read_text(encoding="utf-8")
    block = "\n".join(line[4:] for line in page.splitlines() if line.startswith("    "))
    outlets = Outlets.from_mapping(tomllib.loads(block))
    assert outlets.exclusive_outlet("cover-a4") == "gazette"


def test_the_starter_outlets_name_destinations_that_exist() -> None:
    known = {one.name for one in load_presets().destinations}
    assert set(Outlets.from_mapping(tomllib.loads(STARTER)).runs_in) <= known


def test_the_program_tells_its_version() -> None:
    told = CliRunner().invoke(command, ["--version"])
    assert cropper.__version__ in told.output


def without_code(text: str) -> str:
    """A page without its code blocks and code words."""
    text = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    text = re.sub(r"^    .*$", "", text, flags=re.MULTILINE)
    return re.sub(r"`[^`\n]+`", "", text)


@pytest.mark.parametrize(("old", "new"), OLD_NAMES.items())
def test_an_old_name_of_a_verb_works_and_is_not_listed(old: str, new: str) -> None:
    told = CliRunner().invoke(command, [old, "--help"])
    assert told.exit_code == errors.EXIT_DONE
    assert (
        told.output.splitlines()[2:]
        == (CliRunner().invoke(command, [new, "--help"]).output.splitlines()[2:])
    )
    assert f"  {old} " not in CliRunner().invoke(command, ["--help"]).output


# --- the table of rules ------------------------------------------------------------------------

COMPOSITION = (ROOT / "docs" / "composition.md").read_text(encoding="utf-8")


def rows_under(heading: str) -> dict[str, list[str]]:
    """The cells of a table of the page of rules, by their first."""
    part = COMPOSITION.split(f"### {heading}\n", 1)[1].split("\n#", 1)[0]
    lines = [line for line in part.splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {one[0]: one[1:] for one in cells if one[0] != "rule"}


HARD, SOFT = rows_under("Hard rules"), rows_under("Soft rules")


def test_every_rule_has_its_row_on_the_page_and_every_row_its_rule() -> None:
    assert {*HARD, *SOFT} == {rule.name for rule in RULES}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rules_row_says_what_its_record_says(rule: Rule) -> None:
    if rule.name in HARD:
        assert rule.hard
        return
    *_, weight, marks = SOFT[rule.name]
    assert rule.hard == (weight == "hard")
    if not rule.hard:
        assert float(weight.removesuffix("(fitted)")) == rule.weight
        assert rule.linear == (marks == "linear")
        forced = rule.forced_is_free and rule.axis is not Axis.BOTH
        assert forced == (marks == "F")
