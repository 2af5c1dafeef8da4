"""The frame in a real browser: reached by thumb, read in the dark, under the real content policy."""

import threading
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings as house

pytestmark = [pytest.mark.browser, pytest.mark.django_db]
SESSIONLESS = (
    "sessions", "AuthenticationMiddleware", "LoginRequired", "MessageMiddleware", "axes", "whitenoise",
)  # fmt: skip
PATHS = ("/", "/bench/", "/no-such-lump/", "/locked/", "/stale/")


@pytest.fixture
def address(settings, db) -> Iterator[str]:
    """The stand-in screens, served without sessions so that the test's own transaction is not in the way."""
    from django.contrib.staticfiles import views
    from django.contrib.staticfiles.handlers import StaticFilesHandler
    from django.core.wsgi import get_wsgi_application
    from waitress.server import create_server

    class WithFiles(StaticFilesHandler):
        def serve(self, request):
            return views.serve(request, self.file_path(request.path), insecure=True)

    settings.ROOT_URLCONF = "tests.web.shell_urls"
    kept = [name for name in house.MIDDLEWARE if not any(word in name for word in SESSIONLESS)]
    settings.MIDDLEWARE = [*kept, "tests.web.shell_urls.AsOwner"]
    settings.ALLOWED_HOSTS = ["127.0.0.1"]
    server = create_server(WithFiles(get_wsgi_application()), host="127.0.0.1", port=0, threads=6)
    threading.Thread(target=server.run, daemon=True).start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()


def test_the_eight_words_are_one_press_away_on_a_phone(address: str, phone):
    phone.goto(address + "/wood/")
    words = phone.locator("#words ul.main a")
    assert words.count() == 8 and not words.first.is_visible()
    phone.get_by_role("button", name="Wood").tap()
    phone.get_by_role("link", name="Stores").wait_for()
    for box in (words.nth(n).bounding_box() for n in range(8)):
        assert box["height"] >= 64 and box["width"] >= 150
    phone.get_by_role("link", name="Galleries").tap()
    phone.wait_for_url("**/galleries/")
    assert phone.get_by_role("button", name="Galleries").is_visible()


def test_the_words_open_without_javascript(address: str, new_page: Callable):
    page = new_page(viewport={"width": 390, "height": 844}, java_script_enabled=False)
    page.goto(address + "/")
    page.get_by_role("button", name="Round").click()
    page.get_by_role("link", name="Prices").click()
    page.wait_for_url("**/prices/")


def test_the_eight_words_stand_in_one_row_at_the_desk(address: str, desk):
    desk.goto(address + "/")
    words = desk.locator("#words li:not(.who) a")
    tops = {words.nth(n).bounding_box()["y"] for n in range(words.count())}
    assert len(tops) == 1
    assert not desk.locator(".go").is_visible()


@pytest.mark.parametrize(("scheme", "width"), [("dark", 390), ("light", 1280)])
def test_no_page_of_the_frame_shuts_anybody_out(address: str, new_page: Callable, scheme: str, width: int):
    from axe_playwright_python.sync_playwright import Axe

    page = new_page(viewport={"width": width, "height": 844}, color_scheme=scheme)
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
    for path in PATHS:
        page.goto(address + path)
        found = Axe().run(page, options=rules).response["violations"]
        assert [(path, fault["id"], fault["nodes"][0]["html"]) for fault in found] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path


def test_everything_to_press_is_large_enough(address: str, phone):
    measure = """() => [...document.querySelectorAll(
        'button, a.do, a.plain, .chips label, label.tick, input:not([type=hidden], [type=radio], [type=checkbox])')]
        .filter(e => e.checkVisibility()).map(e => [e.outerHTML.slice(0, 60), e.getBoundingClientRect().height])"""
    for path, least in (("/", 48), ("/bench/", 64)):
        phone.goto(address + path)
        sizes = phone.evaluate(measure)
        assert len(sizes) >= 2
        assert [pair for pair in sizes if pair[1] < least] == []


def test_the_letters_are_the_studios_own(address: str, desk):
    desk.goto(address + "/")
    desk.evaluate("document.fonts.ready")
    loaded = desk.evaluate("[...document.fonts].filter(f => f.status === 'loaded').map(f => f.weight)")
    assert {"400", "700 900"} <= set(loaded)


def test_a_clock_runs_by_the_servers_time(address: str, phone):
    phone.clock.install(time="2001-01-01T00:00:00Z")
    phone.goto(address + "/bench/")
    clock = phone.locator("time[data-clock]")
    before = clock.inner_text()
    assert before in ("0:00", "−0:01")
    phone.clock.run_for(5_000)
    assert clock.inner_text() in ("−0:05", "−0:06", "−0:07")


@pytest.mark.parametrize(("guarded", "times"), [(True, 1), (False, 2)])
def test_a_second_press_sends_nothing(address: str, desk, guarded: bool, times: int):
    if not guarded:  # what happens without the guard: both presses are sent
        desk.route("**/submit-once.js", lambda route: route.abort())
    desk.goto(address + "/wood/")
    sent = desk.evaluate("""() => {
        let sent = 0;
        addEventListener("submit", event => { if (!event.defaultPrevented) sent += 1; event.preventDefault(); });
        const form = document.querySelector("form.sheet");
        form.noValidate = true;
        const button = form.querySelector("button.do");
        button.click(); button.click();
        return sent;
    }""")
    assert sent == times
    assert (desk.locator("form.sheet button.do").get_attribute("aria-disabled") == "true") is guarded


def test_what_is_wrong_is_where_the_reader_lands(address: str, desk):
    desk.goto(address + "/wood/")
    desk.evaluate("document.querySelector('form.sheet').noValidate = true")
    desk.get_by_role("button", name="Store it").click()
    desk.get_by_role("alert").filter(has_text="Nothing was stored yet").wait_for()
    assert desk.evaluate("document.activeElement.className") == "refused"
    desk.get_by_role("link", name="What does it weigh?").click()
    assert desk.evaluate("document.activeElement.id") == "id_weight"
