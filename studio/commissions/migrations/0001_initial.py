
import django.db.models.deletion
import django.db.models.functions.comparison
import studio.fields.whole
import studio.ledger.links
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('ledger', '0001_initial'),
        ('people', '0001_initial'),
        ('selling', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Commission',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(unique=True)),
                ('wanted', models.CharField(max_length=2000)),
                ('form', models.CharField(blank=True, max_length=60)),
                ('by_on', models.DateField(blank=True, null=True)),
                ('price_micro', studio.fields.whole.WholeField(blank=True, null=True)),
                ('asked_at', models.DateTimeField()),
                ('agreed_on', models.DateField(blank=True, null=True)),
                ('state', models.CharField(choices=[('asked', 'asked for'), ('agreed', 'agreed'), ('delivered', 'delivered'), ('called_off', 'called off')], default='asked', max_length=10)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('deposit_asked_micro', studio.fields.whole.WholeField(default=0)),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('client', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='commissions', to='people.client')),
                ('deposit_account', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='commission', to='ledger.account')),
                ('sale', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='commission', to='selling.sale')),
            ],
            options={
                'ordering': ['number'],
            },
        ),
        migrations.CreateModel(
            name='CommissionEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('asked', 'Asked for'), ('agreed', 'Agreed'), ('changed', 'Changed'), ('deposit', 'Deposit taken'), ('deposit_back', 'Deposit given back'), ('deposit_kept', 'Deposit kept'), ('reserved', 'Wood set aside'), ('let_go', 'Wood let go'), ('delivered', 'Delivered'), ('delivery_back', 'Delivery taken back'), ('called_off', 'Called off')], max_length=16)),
                ('words', models.CharField(blank=True, max_length=500)),
                ('amount_micro', studio.fields.whole.WholeField(blank=True, null=True)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('commission', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='events', to='commissions.commission')),
                ('entry', studio.ledger.links.EntryKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.entry')),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.AddIndex(
            model_name='commission',
            index=models.Index(fields=['state', 'by_on'], name='commissions_state_9ddf21_idx'),
        ),
        migrations.AddConstraint(
            model_name='commission',
            constraint=models.CheckConstraint(condition=models.Q(('price_micro', django.db.models.functions.comparison.Cast('price_micro', models.BigIntegerField())), ('price_micro__gte', 1), ('price_micro__lte', 1000000000000000)), name='commission_price_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='commission',
            constraint=models.CheckConstraint(condition=models.Q(('deposit_asked_micro', django.db.models.functions.comparison.Cast('deposit_asked_micro', models.BigIntegerField())), ('deposit_asked_micro__gte', 0), ('deposit_asked_micro__lte', 1000000000000000)), name='commission_deposit_asked_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='commission',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['agreed', 'delivered']), _negated=True), models.Q(('agreed_on__isnull', False), ('by_on__isnull', False), ('price_micro__isnull', False)), _connector='OR'), name='commission_agreed_has_price_and_day'),
        ),
        migrations.AddConstraint(
            model_name='commission',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('sale__isnull', False), ('state', 'delivered')), models.Q(models.Q(('state', 'delivered'), _negated=True), ('sale__isnull', True)), _connector='OR'), name='commission_delivered_is_a_sale'),
        ),
        migrations.AddConstraint(
            model_name='commission',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('ended_at__isnull', True), ('state__in', ['asked', 'agreed'])), models.Q(('ended_at__isnull', False), ('state__in', ['delivered', 'called_off'])), _connector='OR'), name='commission_ended_says_when'),
        ),
        migrations.AddConstraint(
            model_name='commissionevent',
            constraint=models.CheckConstraint(condition=models.Q(('amount_micro', django.db.models.functions.comparison.Cast('amount_micro', models.BigIntegerField())), ('amount_micro__gte', 0), ('amount_micro__lte', 1000000000000000)), name='commissionevent_amount_micro_whole'),
        ),
    ]
