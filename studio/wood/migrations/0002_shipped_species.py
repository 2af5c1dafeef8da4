from django.db import migrations

from studio.people.names import fold
from studio.wood.shipped import SHIPPED


def add(apps, schema_editor):
    Species = apps.get_model("wood", "Species")
    for one in SHIPPED:
        row = one.fields()
        row["name_search"] = fold(f"{one.common_name} {one.other_names} {one.botanical_name}")
        Species.objects.using(schema_editor.connection.alias).get_or_create(
            common_name=one.common_name, botanical_name=one.botanical_name, defaults=row
        )


class Migration(migrations.Migration):
    dependencies = [("wood", "0001_initial")]

    # Taking them out again would take the wood's names with it, so going back leaves them.
    operations = [migrations.RunPython(add, migrations.RunPython.noop)]
