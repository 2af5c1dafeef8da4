"""Cards and tags from the screens: what they say, what can't be printed, and many of them as a piece of long work."""

from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from studio.fields import formats
from studio.jobs import operations as jobs
from studio.jobs.models import Job, State
from studio.papers.from_pieces import PUBLIC_PATH, Studio, card_facts, print_pieces, tag_facts
from studio.people import operations as people
from studio.people import settings as answers
from studio.people.models import User
from studio.pieces import operations as pieces
from studio.pieces import queries
from studio.pieces.models import Piece
from studio.web.screens import papers
from studio.wood import operations as wood
from studio.work import operations as work
from tests.selling.shelf import BEGAN, a_piece, day, finish, settle
from tests.web.pieces_studio import MONEY, a_studio, key, of_role, send, signed_in, text

TODAY = day(300).date()


@pytest.fixture
def owner(db: None) -> User:
    return a_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


@pytest.fixture
def bowl(owner: User) -> Piece:
    return a_piece(owner, "41")


@pytest.fixture
def yew(owner: User) -> Piece:
    """A bowl of a wood with a name and a place, as far as anybody can tell."""
    species = wood.add_species(common_name="yew", botanical_name="Taxus baccata", by=owner, at=BEGAN)
    lump = work.take_in_lump(
        number="50", paid_micro=10 * MONEY, species=species, species_certainty="likely",
        where_it_stood="a churchyard wall", at=BEGAN, by=owner,
    )  # fmt: skip
    piece = pieces.become_piece(workpiece=lump, title="Churchyard bowl", form="bowl", at=BEGAN, by=owner)
    pieces.describe_piece(piece=piece, finish_words="oil and wax")
    finish(piece, owner, day(1))
    pieces.set_asking_price(piece=piece, amount_micro=300 * MONEY, at=day(2), by=owner)
    return piece


def words_of(pdf: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).replace("\n", " ")


def test_a_card_says_where_the_wood_stood_and_how_sure_one_is(yew: Piece) -> None:
    with formats.use(answers.formats()):
        facts = card_facts(queries.page(yew.pk), Studio.now(TODAY))
    (only,) = facts.woods
    assert (only.common, only.botanical, only.where_it_stood) == ("yew", "Taxus baccata", "a churchyard wall")
    assert only.how_sure == "The species is likely"
    assert (facts.size_words, facts.weight_words) == ("200\u00a0mm across, 80\u00a0mm high", "700\u00a0g")
    assert (facts.form, facts.finish, facts.year, facts.studio_name) == (
        "Bowl", "Oil and wax", "2025", "Hollow Tree Studio"
    )  # fmt: skip
    assert facts.cautions == ("Not for food or flame.",)


def test_the_code_leads_to_the_public_page_on_the_studios_own_address(bowl: Piece) -> None:
    bowl.refresh_from_db()
    path = PUBLIC_PATH.format(token=bowl.public_token)
    assert path == reverse("public_piece", args=[bowl.public_token])
    assert card_facts(queries.page(bowl.pk), Studio.now(TODAY)).public_url == "https://hollow.example" + path


def test_a_host_that_a_request_names_gets_onto_no_card(client: Client, bowl: Piece, settings) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    answer = client.get(f"/papers/sheet.pdf?piece={bowl.pk}&what=a6&paper=", HTTP_HOST="evil.example")
    assert answer.status_code == 200 and b"evil.example" not in answer.content


def test_a_piece_not_signed_yet_has_no_public_address_on_its_card(owner: User) -> None:
    piece = a_piece(owner, "9", finished=False, asking=None)
    assert card_facts(queries.page(piece.pk), Studio.now(TODAY)).public_url == ""


def test_the_price_stands_on_a_tag_only_where_it_is_wanted(owner: User, yew: Piece) -> None:
    page = queries.page(yew.pk)
    assert tag_facts(page, Studio.now(TODAY)).price_words == ""
    assert "300.00" in tag_facts(page, Studio.now(TODAY), price=True).price_words
    settle(owner, sales_tax_ppm=200_000, prices_include_tax=True)
    assert "360.00" in tag_facts(page, Studio.now(TODAY), price=True).price_words


def test_a_second_says_so_on_its_card(owner: User, bowl: Piece) -> None:
    pieces.make_second(piece=bowl, reason="a pinhole in the rim")
    assert card_facts(queries.page(bowl.pk), Studio.now(TODAY)).note == "A second: a pinhole in the rim"


def test_many_pieces_are_read_with_as_many_queries_as_few(owner: User, django_assert_num_queries) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def queries_of(count: int) -> int:
        keys = list(Piece.objects.values_list("pk", flat=True)[:count])
        with CaptureQueriesContext(connection) as seen:
            print_pieces(keys, what="tag", paper="a4", on=TODAY)
        return len(seen)

    for number in range(12):
        a_piece(owner, str(100 + number))
    assert queries_of(12) == queries_of(2)


def test_one_pieces_papers_are_printed_at_their_own_size(client: Client, yew: Piece) -> None:
    page = text(client.get(f"/pieces/{yew.pk}/papers/"))
    assert "Provenance card, A6" in page and "Hang tag" in page
    pdf = client.get(f"/papers/sheet.pdf?piece={yew.pk}&what=a6&paper=")
    assert pdf["Content-Type"] == "application/pdf"
    assert "Churchyard bowl" in words_of(pdf.content) and "Taxus baccata" in words_of(pdf.content)


def test_a_letter_no_font_has_is_named_before_printing(client: Client, yew: Piece) -> None:
    pieces.describe_piece(piece=yew, title="Bowl \U00013000")
    page = text(client.get(f"/papers/sheet/?piece={yew.pk}&what=a6"))
    assert "These letters can&#x27;t be printed" in page or "These letters can't be printed" in page
    pieces.describe_piece(piece=yew, title="Bowl")
    assert "letters can" not in text(client.get(f"/papers/sheet/?piece={yew.pk}&what=a6"))


def test_ticked_pieces_come_on_one_sheet_in_their_order(client: Client, owner: User, yew: Piece, bowl: Piece) -> None:
    page = client.get("/papers/")
    assert f'value="{yew.pk}"' in text(page) and f'value="{bowl.pk}"' in text(page)
    answer = client.get(f"/papers/sheet/?piece={bowl.pk}&piece={yew.pk}&what=tag&paper=a4")
    assert "2 pieces to print" in text(answer) and "1 page." in text(answer)
    pdf = client.get(answer.context["pdf"])
    words = words_of(pdf.content)
    assert words.index("Bowl 41") < words.index("Churchyard bowl")


def test_nonsense_in_the_address_is_no_error(client: Client, bowl: Piece) -> None:
    for query in (
        "",
        "piece=abc&piece=-1&what=<b>x&paper=%00",
        "piece=" + "9" * 400,
        "piece=99999",
        "all=1&show=<b>x",
    ):
        assert client.get(f"/papers/sheet/?{query}").status_code == 200, query
    assert client.get("/papers/sheet.pdf?piece=99999").status_code == 404


def test_more_than_can_be_waited_for_are_printed_by_the_worker(
    client: Client, owner: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(papers, "AT_ONCE", 2)
    keys = [a_piece(owner, str(60 + number)).pk for number in range(3)]
    url = "/papers/sheet/?" + "&".join(f"piece={pk}" for pk in keys) + "&what=id1&paper=letter"
    form = {"submission": key(client.get(url))}
    started = [client.post(url, form) for _ in range(2)]
    assert {answer["Location"] for answer in started} == {f"/papers/job/{Job.objects.get().pk}/"}
    job = Job.objects.get()
    waiting = text(client.get(f"/papers/job/{job.pk}/"))
    assert "Waiting for its turn" in waiting and 'hx-trigger="every 1s"' in waiting
    assert client.get(f"/papers/job/{job.pk}/file.pdf").status_code == 404
    assert jobs.carry_out(job_id=job.pk).state == State.DONE
    done = text(client.get(f"/papers/job/{job.pk}/"))
    assert "Done" in done and "hx-trigger" not in done
    file = client.get(f"/papers/job/{job.pk}/file.pdf")
    assert "Bowl 62" in words_of(b"".join(file.streaming_content))


def test_printing_can_be_stopped(client: Client, owner: User, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(papers, "AT_ONCE", 0)
    bowl = a_piece(owner, "60")
    send(client, f"/papers/sheet/?piece={bowl.pk}")
    job = Job.objects.get()
    assert client.post(f"/papers/job/{job.pk}/stop/", {"submission": "k" * 22}).status_code in (303, 422)
    send(client, f"/papers/job/{job.pk}/stop/")
    job.refresh_from_db()
    assert job.state == State.CANCELLED
    assert "Stopped" in text(client.get(f"/papers/job/{job.pk}/"))


def test_another_kind_of_job_is_not_found_here(client: Client) -> None:
    from studio.jobs import registry

    registry.register("count", "count", "tests.jobs.handlers:count")
    try:
        job = jobs.start(kind="count", args={"to": 1}, by=None, at=timezone.now())
    finally:
        registry.forget("count")
    assert client.get(f"/papers/job/{job.pk}/").status_code == 404


def test_a_visitor_prints_nothing(owner: User, bowl: Piece) -> None:
    visitor = of_role("visitor", owner)
    for url in (
        "/papers/",
        f"/papers/sheet/?piece={bowl.pk}",
        f"/papers/sheet.pdf?piece={bowl.pk}",
        f"/pieces/{bowl.pk}/papers/",
    ):
        assert visitor.get(url).status_code == 403, url


def test_without_a_web_address_the_screen_says_why_there_is_no_code(db: None) -> None:
    from tests.selling.shelf import set_up

    owner = set_up()
    bowl = a_piece(owner, "41")
    client = signed_in(owner)
    url = f"/pieces/{bowl.pk}/papers/"
    assert "There is no square code" in text(client.get(url))
    people.set_setting(key="base_url", value="https://hollow.example", by=owner, at=timezone.now())
    assert "There is no square code" not in text(client.get(url))


def test_a_new_public_address_makes_the_old_code_lead_nowhere(client: Client, bowl: Piece) -> None:
    bowl.refresh_from_db()
    old = bowl.public_token
    assert send(client, f"/pieces/{bowl.pk}/new-address/").status_code == 303
    assert Client().get(f"/p/{old}/").status_code == 404
    bowl.refresh_from_db()
    assert Client().get(f"/p/{bowl.public_token}/").status_code == 200
