"""What the gauge of a running pot shows: one tap, and again only if it fell."""

from typing import Any

from django.urls import path

from studio.equipment import operations as equipment
from studio.equipment import pot_check
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.web.forms import StudioForm, Typed
from studio.web.screens.loads import LoadDeed
from studio.web.screens.pot_words import gauge_facts


class GaugeForm(StudioForm):
    gauge_pa = QuantityField(
        dimension="pressure", least=0, widget=Typed(letters=True), label="What does the gauge show?"
    )
    at = MomentField(label="When did you look?")


class LoadGauge(LoadDeed):
    """One tap on the load's own page, or here where it fell."""

    form_class, button, template_name = GaugeForm, "It shows that", "loads/gauge.html"

    def headed(self) -> str:
        return f"The gauge of {self.load.machine.name}"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"gauge": gauge_facts(self.load, self.now)}

    def do(self, data: dict[str, Any]) -> str:
        before = pot_check.gauge(self.load)
        row = equipment.read_gauge(
            load=self.load, gauge_pa=data["gauge_pa"], at=moment_or_now(data["at"], self.now), by=self.by,
            confirm=bool(data.get("sure")), now=self.now,
        )  # fmt: skip
        seen = pot_check.gauge(self.load)
        words = f"{self.load.machine.name} stands at {show(row.gauge_pa, 'pressure')}."
        if before.reached_at is None and seen.reached_at is not None:
            took = int((seen.reached_at - self.load.started_at).total_seconds())
            words += f" It took {show(took, 'duration')} to fill." if took else ""
        self.say(words)
        return self.back


urlpatterns = [path("loads/<int:pk>/gauge/", LoadGauge.as_view(), name="load_gauge")]
