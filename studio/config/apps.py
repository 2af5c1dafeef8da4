from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "studio.config"
    label = "config"

    def ready(self) -> None:
        from studio.config import checks  # noqa: F401
        from studio.config.handlers import HANDLERS, SWEEPS
        from studio.jobs import registry

        for kind, (words, path) in HANDLERS.items():
            registry.register(kind, words, path)
        for name, path in SWEEPS.items():
            registry.register_sweep(name, path)
