"""The guide in the terminal."""

import pytest
from click.testing import CliRunner, Result

from api.cli.commands import main
from api.pages.guide import guide
from scheduling.reasons.tables import KINDS, codes


def asked(*words: str) -> Result:
    return CliRunner().invoke(main, ["help", *words], env={"COLUMNS": "80"})


def test_without_a_topic_every_page_is_listed() -> None:
    lines = asked().output

    assert all(page.topic in lines and page.title in lines for page in guide().values())


@pytest.mark.parametrize("topic", guide())
def test_every_page_can_be_read(topic: str) -> None:
    ran = asked(topic)

    assert ran.exit_code == 0
    assert guide()[topic].title in ran.output


def test_a_word_that_is_no_page_names_the_nearest() -> None:
    ran = asked("wether")

    assert ran.exit_code == 2
    assert "Did you mean weather?" in ran.output


@pytest.mark.parametrize("kind", KINDS)
def test_every_code_says_when_it_holds_and_what_to_do(kind: str) -> None:
    for code in codes(kind):
        ran = asked(code)

        assert ran.exit_code == 0, code
        assert ran.output.startswith(f"{code}, one of the")
        assert "\nWhen: " in ran.output
        assert "\nWhat to do: " in ran.output
