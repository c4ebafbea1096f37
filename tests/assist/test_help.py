"""Every command's help: what each option is, and examples that are real command lines."""

import pytest

from assist.cli.examples import HEADING
from tests.assist.command_lines import every_command, is_group, parse

COMMANDS = dict(every_command())
NAMES = [" ".join(path) for path in COMMANDS]


def examples_of(command):
    heading, *lines = command.epilog.split("\n\n")
    assert heading == HEADING
    return lines


def test_all_commands_are_there():
    assert {"assist", "assist live", "assist check", "assist calibrate mark"} < set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_examples(name):
    command = COMMANDS[tuple(name.split())]
    lines = examples_of(command)
    assert lines
    for line in lines:
        assert line == name or line.startswith(f"{name} "), line
        parse(line)


@pytest.mark.parametrize("name", NAMES)
def test_help_says_what_each_option_is(name):
    command = COMMANDS[tuple(name.split())]
    assert command.help
    for parameter in command.params:
        assert getattr(parameter, "help", ""), f"{name}: {parameter.name}"


@pytest.mark.parametrize("name", [n for n in NAMES if not is_group(COMMANDS[tuple(n.split())])])
def test_help_shows_the_examples(name, capsys, monkeypatch):
    from assist import cli

    monkeypatch.setattr("sys.argv", [*name.split(), "--help"])
    # A terminal wide enough that no line is broken.
    monkeypatch.setenv("COLUMNS", "300")
    with pytest.raises(SystemExit) as ended:
        cli.main()
    out = capsys.readouterr().out
    assert ended.value.code == 0
    for line in examples_of(COMMANDS[tuple(name.split())]):
        assert line in out


OF_THE_PICTURE = {
    "--at-limit", "--burst", "--burst-interval", "--ghost", "--if-not-ready", "--limit",
    "--on-fire", "--on-fire-limit", "--output", "--pictures-from", "--real-time", "--repeat",
    "--repeat-attempt", "--timer-lag", "--trigger", "--when-ready",
}  # fmt: skip


def test_a_rehearsal_takes_all_options_of_the_run_that_are_not_of_the_picture():
    live, rehearse = (
        {name for parameter in COMMANDS["assist", command].params for name in parameter.opts}
        for command in ("live", "rehearse")
    )
    assert live - rehearse == OF_THE_PICTURE
    assert {"--rotate", "--units", "--pose-model", "--share"} <= rehearse


def test_the_text_is_broken_by_the_terminal_and_not_by_the_source():
    long = COMMANDS["assist", "live"].help.split("\n\n")
    assert len(long) > 1
    assert max(len(paragraph) for paragraph in long) > 100
    assert not any("\n" in paragraph for paragraph in long)


def test_a_line_that_is_wrong_does_not_parse():
    with pytest.raises(Exception, match="--dance"):
        parse("assist live 0 --dance")
    with pytest.raises(Exception, match="waltz"):
        parse("assist waltz")
