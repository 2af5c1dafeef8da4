"""Help is complete: every right, question, command, caution and word of the trade stands in it."""

import argparse
import re

import pytest
from django.core.management import get_commands, load_command_class
from django.db.models import Choices
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from studio.equipment.cautions import CAUTIONS
from studio.ledger.accounts import PAID_OUT, RECKONED
from studio.people import operations as people
from studio.people.models import Role, User
from studio.people.questions import QUESTIONS
from studio.people.roles import RIGHTS
from studio.pieces.models import WayOut
from studio.web.screens.help import PAGES
from studio.wood.kinds import WoodKind
from studio.work.models import Cause, LineKind, Stage, StepCode
from tests import houses
from tests.people.conftest import AT, PASSWORD
from tests.web.pages import links, tables, text


@pytest.fixture
def owner(db: None) -> User:
    user = people.set_up_studio(
        studio_name="Hollow Tree Studio", currency="EUR", length_unit="mm", temperature_unit="°C",
        pressure_unit="bar", username="ilse", display_name="Ilse Brand", password=PASSWORD, at=AT,
    )  # fmt: skip
    people.set_setting(key="tariff_micro", value=371_900, by=user, at=AT)
    return user


@pytest.fixture
def visitor(owner: User) -> Client:
    user = people.add_user(username="v", display_name="V", role=Role.VISITOR, password=PASSWORD, by=owner, at=AT)
    client = Client()
    client.force_login(user)
    return client


def shown(client: Client, slug: str) -> str:
    response = client.get(reverse("help_page", args=[slug]))
    assert response.status_code == 200
    return response.content.decode()


def test_the_index_leads_to_every_page_and_each_opens(visitor: Client) -> None:
    index = visitor.get(reverse("help")).content.decode()
    for page in PAGES:
        address = reverse("help_page", args=[page.slug])
        assert address in links(index)
        assert escape(page.title) in shown(visitor, page.slug)


def test_every_page_of_help_that_lies_there_is_listed() -> None:
    lying = {path.stem for path in (houses.ROOT / "templates" / "help").glob("*.html")}
    assert lying == {page.slug for page in PAGES} | {"index", "base_help"}


def test_a_page_that_is_not_there_is_said_so(visitor: Client) -> None:
    assert visitor.get("/help/etc-passwd/").status_code == 404


def test_every_right_stands_there_with_a_yes_or_a_no_for_every_role(visitor: Client) -> None:
    rows = tables(shown(visitor, "roles"))["roles"]
    wanted = [[words, *("yes" if role in roles else "no" for role in Role)] for words, roles in RIGHTS.values()]
    assert rows == wanted


def test_every_question_stands_there_with_whose_figure_it_is(visitor: Client) -> None:
    page = shown(visitor, "settings")
    for question in QUESTIONS:
        row = re.search(rf'<tr id="{question.key}">(.*?)</tr>', page, re.S)
        assert row, question.key
        assert question.asks in text(row[1]) and question.help in text(row[1]) and question.whose in text(row[1])


def test_help_shows_what_is_proposed_and_never_what_this_studio_answered(visitor: Client) -> None:
    page = shown(visitor, "settings")
    assert "0.3719" not in page and "0.37" not in page
    assert "15" in re.search(r'<tr id="loss_allowance_ppm">(.*?)</tr>', page, re.S)[1]


def test_every_caution_stands_there_with_its_source_and_who_has_the_last_word(visitor: Client) -> None:
    page = shown(visitor, "safety")
    for caution in CAUTIONS:
        row = re.search(rf'<tr id="{caution.code}">(.*?)</tr>', page, re.S)
        assert row, caution.code
        assert [text(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row[1], re.S)] == [
            caution.words, caution.source, caution.defers_to,
        ]  # fmt: skip


def _own_commands() -> dict[str, str]:
    return {name: app for name, app in get_commands().items() if app.startswith("studio.")}


def test_every_command_of_the_studio_stands_there_with_its_own_switches(visitor: Client) -> None:
    page = text(shown(visitor, "commands"))
    usual = {"--help", "--version", "--verbosity", "--settings", "--pythonpath", "--traceback", "--no-color",
             "--force-color", "--skip-checks"}  # fmt: skip
    own = _own_commands()
    assert {"serve", "audit", "let_in", "worker"} <= set(own)
    for name, app in own.items():
        assert f"manage.py {name}" in page, name
        if not load_command_class(app, name).__class__.__module__.startswith("studio.") or name == "migrate":
            continue
        parser = load_command_class(app, name).create_parser("manage.py", name)
        told = [action for action in parser._actions if action.help != argparse.SUPPRESS]
        switches = {word for action in told for word in action.option_strings if word.startswith("--")}
        for switch in switches - usual:
            assert switch in page, f"{name} {switch}"


def test_no_command_stands_there_that_does_not_exist(visitor: Client) -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", text(shown(visitor, "commands"))))
    assert named <= {*_own_commands(), "test"}


@pytest.mark.parametrize("choices", [StepCode, Stage, Cause, WoodKind, WayOut, LineKind])
def test_every_word_one_can_choose_is_explained(visitor: Client, choices: type[Choices]) -> None:
    page = text(shown(visitor, "words")).casefold()
    shortened = {"given as a gift": "gift", "made a sample": "sample", "taken for own use": "own use"}
    for _, label in choices.choices:
        word = str(label).casefold()
        assert shortened.get(word, word) in page, label


def test_paid_out_and_reckoned_name_every_part_of_a_cost_once(visitor: Client) -> None:
    page = shown(visitor, "words")
    for anchor, parts in (("paid-out", PAID_OUT), ("reckoned", RECKONED)):
        words = text(re.search(rf'<dt id="{anchor}">.*?<dd>(.*?)</dd>', page, re.S)[1]).casefold()
        for part in parts:
            assert str(part.label).casefold() in words, part
    assert "own hours" not in text(re.search(r'<dt id="paid-out">.*?<dd>(.*?)</dd>', page, re.S)[1])


def test_help_knows_one_meaning_of_commission(visitor: Client) -> None:
    page = text(shown(visitor, "words"))
    assert "An ordered piece, and nothing else." in page
