from django.db import migrations

from studio.equipment.upkeep_usual import USUAL


def give_usual(apps, editor):
    Machine, Upkeep = apps.get_model("equipment", "Machine"), apps.get_model("equipment", "Upkeep")
    Upkeep.objects.bulk_create(
        Upkeep(machine=row, what=what, every_s=every, run_s=run, began_at=row.added_at)
        for row in Machine.objects.filter(retired_on=None)
        for what, every, run in USUAL.get(row.kind, ())
    )


class Migration(migrations.Migration):
    dependencies = [("equipment", "0004_a_machine_has_a_diary_and_a_top_speed")]
    operations = [migrations.RunPython(give_usual, migrations.RunPython.noop)]
