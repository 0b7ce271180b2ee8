"""What the README promises is what the automatic run does."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"```sh\n(.*?)\n```", README, re.DOTALL)


def test_the_readme_opens_with_the_job_in_one_paragraph():
    title, job, heading = re.split(r"\n\n", README, maxsplit=3)[:3]
    assert title.startswith("# ")
    assert "wind teacher" in job
    assert heading.startswith("## Two commands")


def test_two_commands_stand_in_the_readme_one_builds_and_one_tests():
    build, test = COMMANDS[:2]
    assert build.endswith("kit build")
    assert test.endswith("-m pytest")
    assert "\n" not in build + test


def test_the_automatic_run_runs_the_readmes_test_command():
    assert COMMANDS[1] in (ROOT / ".ci/run").read_text(encoding="utf-8")


def test_every_link_in_the_documentation_leads_somewhere():
    for page in [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        *(ROOT / "docs").rglob("*.md"),
    ]:
        text = page.read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#\s]+)", text):
            if "://" not in target:
                assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_the_top_level_holds_what_the_layout_says():
    shown = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "lessons", "kit",
        "tests", "build", "docs",
    } <= shown  # fmt: skip
