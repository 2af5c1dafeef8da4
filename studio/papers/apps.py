from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "studio.papers"
    label = "papers"
