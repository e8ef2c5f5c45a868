"""Shell completion, asked for as bash and zsh ask for it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BASH = shutil.which("bash")
# What bash does when Tab is pressed after the words given: it calls the function and looks at COMPREPLY.
TAB = """
eval "$(_PRESSDAY_COMPLETE=source_bash pressday)"
COMP_WORDS=(pressday "$@"); COMP_CWORD=$#; COMPREPLY=()
_pressday_completion pressday
printf '%s\\n' "${COMPREPLY[@]}"
"""


@pytest.fixture
def shell(tmp_path: Path) -> dict[str, str]:
    """An environment with a `pressday` command, as pip writes one, and an empty home."""
    command = tmp_path / "bin" / "pressday"
    command.parent.mkdir()
    command.write_text(f"#!{sys.executable}\nfrom scheduler.cli import main\nmain()\n", encoding="utf-8")
    command.chmod(0o755)
    path = f"{command.parent}{os.pathsep}{os.environ['PATH']}"
    return {**os.environ, "PATH": path, "PYTHONPATH": str(ROOT), "HOME": str(tmp_path)}


def run(words: list[str], env: dict[str, str], **more: str) -> str:
    done = subprocess.run(words, env={**env, **more}, capture_output=True, text=True, check=True, cwd=env["HOME"])
    return done.stdout


@pytest.mark.skipif(BASH is None, reason="no bash here")
@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        (["pl"], {"plan"}),
        (["plan", "--eff"], {"--effort"}),
        (["plan", "--effort", ""], {"quick", "normal", "thorough"}),
        (["sheets", "--paper", "l"], {"letter"}),
        (["log", "day", "do"], {"down", "done"}),
        (["plan", "som"], {""}),  # nothing of its own: bash goes on with files and folders
    ],
)
def test_bash_offers(shell: dict[str, str], typed: list[str], offered: set[str]) -> None:
    """Commands, options, their values and the words of the log are completed in bash."""
    assert set(run([str(BASH), "-c", TAB, "tab", *typed], shell).split("\n")[:-1]) == offered


@pytest.mark.skipif(BASH is None, reason="no bash here")
def test_folders_are_left_to_bash(shell: dict[str, str]) -> None:
    """Where the command offers nothing, as for a folder, bash completes the names of files itself."""
    told = run([str(BASH), "-c", 'eval "$(_PRESSDAY_COMPLETE=source_bash pressday)"; complete -p pressday'], shell)
    assert "-o default" in told


def test_zsh_offers(shell: dict[str, str]) -> None:
    """In zsh commands are offered with their help, and a folder is completed as a file."""
    assert "#compdef pressday" in run(["pressday"], shell, _PRESSDAY_COMPLETE="source_zsh")
    ask = {"_PRESSDAY_COMPLETE": "complete_zsh"}
    assert '"sheets":"' in run(["pressday"], shell, _TYPER_COMPLETE_ARGS="pressday sh", **ask)
    assert run(["pressday"], shell, _TYPER_COMPLETE_ARGS="pressday plan som", **ask).strip() == "_files"


@pytest.mark.skipif(BASH is None, reason="no bash here")
def test_completion_is_installed_where_bash_reads_it(shell: dict[str, str]) -> None:
    """--show-completion prints the script, and --install-completion has .bashrc read it."""
    shown = run([str(BASH), "-c", "pressday --show-completion; true"], shell)
    assert "complete -o default -F _pressday_completion pressday" in shown
    run([str(BASH), "-c", "pressday --install-completion; true"], shell)
    home = Path(shell["HOME"])
    assert ".bash_completions/pressday.sh" in (home / ".bashrc").read_text(encoding="utf-8")
    assert "_pressday_completion" in (home / ".bash_completions" / "pressday.sh").read_text(encoding="utf-8")
