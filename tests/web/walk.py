"""Walking through the studio as a person does: pressing what can be read, typing into what is asked for.

Nothing here knows an address or a table. What is pressed is found by its words, what is filled in by its label.
"""

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page


class Walk:
    """One person at one screen. `zone` is the clock the studio lives by."""

    def __init__(self, page: "Page", zone: str = "UTC") -> None:
        self.page, self.zone = page, ZoneInfo(zone)

    # what one presses

    def press(self, word: str) -> None:
        """Press a link, a button or a tag of these words, and be on the page it leads to."""
        page = self.page.locator("main, footer")
        link, button = (page.get_by_role(role, name=word, exact=True) for role in ("link", "button"))  # type: ignore[arg-type]
        tag = page.locator("a.tag", has_text=self.words(word, before=r"(.*\s)?"))
        self._follow(link.or_(button).or_(tag))

    def go_to(self, word: str) -> None:
        """One of the words at the top of every page; on a phone they lie behind one button."""
        header = self.page.locator("header")
        found = header.get_by_role("link", name=word, exact=True)
        if not found.locator("visible=true").count():
            header.locator("button.go").click()
        self._follow(found)

    def _follow(self, found: "Locator") -> None:
        with self.page.expect_navigation():
            found.locator("visible=true").first.click()

    def unfold(self, word: str) -> None:
        """Open what is folded away behind these words, where it isn't open already."""
        fold = self.page.locator("details", has=self.page.locator("summary", has_text=word)).first
        if fold.get_attribute("open") is None:
            fold.locator("summary").first.click()

    def choose(self, word: str) -> None:
        """Tap a chip or tick a tick, unless it is chosen already."""
        label = self.page.locator("label", has_text=self.words(word)).locator("visible=true").first
        if not label.locator("input").is_checked():
            label.click()

    def prints(self, what: str, file: Path) -> Path:
        """Open the sheet of this heading by itself and keep the file the browser is handed."""
        sheet = self.page.locator("section", has=self.page.get_by_role("heading", name=what, exact=True))
        with self.page.expect_navigation():
            sheet.get_by_role("link", name="By itself").click()
        # The browser shows it in a window of its own that can't be read: the same file is taken once more.
        answer = self.page.context.request.get(self.page.url)
        assert answer.headers["content-type"] == "application/pdf", answer.status
        file.write_bytes(answer.body())
        self.page.go_back()
        return file

    # what one fills in

    def fill(self, label: str, value: str) -> None:
        self.box(label).fill(value)

    def pick(self, label: str, words: str) -> None:
        """Choose from a list by what stands in it; the beginning is enough."""
        box = self.box(label)
        options = box.locator("option").all_inner_texts()
        box.select_option(label=next(option for option in options if option.strip().startswith(words)))

    def at(self, label: str, moment: datetime) -> None:
        """Say when it was, on the studio's clock."""
        self.fill(label, moment.astimezone(self.zone).strftime("%Y-%m-%dT%H:%M"))

    def photograph(self, label: str, file: Path) -> None:
        self.box(label).set_input_files(file)

    def box(self, label: str) -> "Locator":
        return self.page.get_by_label(label).locator("visible=true").first

    # what one reads

    def wait(self, seconds: float) -> None:
        self.page.wait_for_timeout(seconds * 1000)

    def reads(self, *sentences: str) -> None:
        """Each of these stands on the page, or comes to stand there within a few seconds."""
        from playwright.sync_api import expect

        for sentence in sentences:
            expect(self.page.locator("main")).to_contain_text(sentence, use_inner_text=True, timeout=8_000)

    def said(self) -> str:
        """Everything the page says."""
        return " ".join(self.page.locator("main").inner_text().split())

    def paid_out_and_all_in(self, row: str) -> tuple[str, str]:
        """The two figures of one row of what it cost; a figure that isn't there is nothing."""
        cells = self.page.locator("table.cost tr", has_text=self.words(row, after="")).first.locator("td")
        paid, all_in = (" ".join(cells.nth(at).inner_text().split()) for at in (1, 2))
        return paid, all_in

    def figure(self, pattern: str) -> str:
        """What stands in the first brackets of a pattern, somewhere on the page."""
        found = re.search(pattern, self.said())
        assert found, f"{pattern} was not found in: {self.said()}"
        return found[1]

    @staticmethod
    def words(word: str, before: str = "", after: str = r"\s*$") -> re.Pattern[str]:
        """These words and no others. A stroke would end the pattern where the browser reads it; any space is one."""
        said = r"\s".join(re.escape(part) for part in word.split()).replace("/", ".")
        return re.compile(rf"^\s*{before}{said}{after}")


def mornings_ago(days: int, zone: str = "UTC") -> Callable[[float], datetime]:
    """Moments counted in hours from seven in the morning, so many days ago."""
    here = datetime.now(ZoneInfo(zone))
    began = (here - timedelta(days=days)).replace(hour=7, minute=0, second=0, microsecond=0)
    return lambda hours: began + timedelta(hours=hours)
