from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "studio.reports"
    label = "reports"
