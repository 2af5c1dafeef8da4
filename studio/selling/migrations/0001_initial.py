
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
        ('pieces', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='ClientAccount',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('account', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='client_account', to='ledger.account')),
                ('client', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='selling_account', to='people.client')),
            ],
        ),
        migrations.CreateModel(
            name='Gallery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=200)),
                ('name_search', models.CharField(editable=False, max_length=400, unique=True)),
                ('town', models.CharField(blank=True, max_length=200)),
                ('email', models.CharField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=50)),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('added_at', models.DateTimeField()),
                ('closed_on', models.DateField(blank=True, null=True)),
                ('account', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='gallery', to='ledger.account')),
            ],
            options={
                'ordering': ['name_search', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Placement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('left_at', models.DateTimeField()),
                ('left_on', models.DateField()),
                ('back_at', models.DateTimeField(blank=True, null=True)),
                ('back_on', models.DateField(blank=True, null=True)),
                ('back_why', models.CharField(blank=True, max_length=200)),
                ('back_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('gallery', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='selling.gallery')),
                ('left_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='pieces.piece')),
            ],
            options={
                'ordering': ['left_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Sale',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sold_at', models.DateTimeField()),
                ('sold_on', models.DateField(db_index=True)),
                ('price_micro', studio.fields.whole.WholeField()),
                ('tax_micro', studio.fields.whole.WholeField(default=0)),
                ('share_ppm', studio.fields.whole.WholeField(default=0)),
                ('share_micro', studio.fields.whole.WholeField(default=0)),
                ('card', models.BooleanField(default=False)),
                ('card_fee_micro', studio.fields.whole.WholeField(default=0)),
                ('other_cost_micro', studio.fields.whole.WholeField(default=0)),
                ('deposit_used_micro', studio.fields.whole.WholeField(default=0)),
                ('paid_now', models.BooleanField(default=True)),
                ('owed_micro', studio.fields.whole.WholeField(default=0)),
                ('due_on', models.DateField(blank=True, null=True)),
                ('cost_micro', studio.fields.whole.WholeField(default=0)),
                ('paid_out_micro', studio.fields.whole.WholeField(default=0)),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('ref', models.CharField(blank=True, max_length=60)),
                ('taken_back_at', models.DateTimeField(blank=True, null=True)),
                ('taken_back_why', models.CharField(blank=True, max_length=200)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('client', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='people.client')),
                ('entry', studio.ledger.links.EntryKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.entry')),
                ('gallery', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='selling.gallery')),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='pieces.piece')),
                ('placement', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sale', to='selling.placement')),
                ('taken_back_entry', studio.ledger.links.EntryKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.entry')),
            ],
            options={
                'ordering': ['sold_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='GalleryTerms',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_on', models.DateField()),
                ('revision', models.PositiveSmallIntegerField()),
                ('share_ppm', studio.fields.whole.WholeField()),
                ('days_to_pay', models.PositiveSmallIntegerField()),
                ('collects_tax', models.BooleanField(default=True)),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('recorded_at', models.DateTimeField()),
                ('gallery', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='terms', to='selling.gallery')),
                ('set_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['gallery', 'from_on', 'revision'],
                'constraints': [models.CheckConstraint(condition=models.Q(('share_ppm', django.db.models.functions.comparison.Cast('share_ppm', models.BigIntegerField())), ('share_ppm__gte', 0), ('share_ppm__lte', 1000000000000000)), name='galleryterms_share_ppm_whole'), models.CheckConstraint(condition=models.Q(('share_ppm__lt', 1000000)), name='galleryterms_share_of_a_whole'), models.UniqueConstraint(fields=('gallery', 'from_on', 'revision'), name='galleryterms_one_row_each')],
            },
        ),
        migrations.CreateModel(
            name='Payment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('amount_micro', studio.fields.whole.WholeField()),
                ('at', models.DateTimeField()),
                ('on', models.DateField()),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('taken_back_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('client', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='payments', to='people.client')),
                ('entry', studio.ledger.links.EntryKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.entry')),
                ('gallery', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='payments', to='selling.gallery')),
                ('taken_back_entry', studio.ledger.links.EntryKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ledger.entry')),
            ],
            options={
                'ordering': ['at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount_micro', django.db.models.functions.comparison.Cast('amount_micro', models.BigIntegerField())), ('amount_micro__gte', -1000000000000000), ('amount_micro__lte', 1000000000000000)), name='payment_amount_micro_whole'), models.CheckConstraint(condition=models.Q(('amount_micro', 0), _negated=True), name='payment_of_something'), models.CheckConstraint(condition=models.Q(models.Q(('client__isnull', True), ('gallery__isnull', False)), models.Q(('client__isnull', False), ('gallery__isnull', True)), _connector='OR'), name='payment_by_one'), models.CheckConstraint(condition=models.Q(models.Q(('taken_back_at__isnull', True), ('taken_back_entry__isnull', True)), models.Q(('taken_back_at__isnull', False), ('taken_back_entry__isnull', False)), _connector='OR'), name='payment_taken_back_by_an_entry')],
            },
        ),
        migrations.AddIndex(
            model_name='placement',
            index=models.Index(fields=['gallery', 'back_at'], name='selling_pla_gallery_04427a_idx'),
        ),
        migrations.AddConstraint(
            model_name='placement',
            constraint=models.UniqueConstraint(condition=models.Q(('back_at__isnull', True)), fields=('piece',), name='placement_one_place_at_a_time'),
        ),
        migrations.AddConstraint(
            model_name='placement',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('back_at__isnull', True), ('back_on__isnull', True), ('back_why', '')), models.Q(('back_at__isnull', False), ('back_on__isnull', False), models.Q(('back_why', ''), _negated=True)), _connector='OR'), name='placement_ended_says_why'),
        ),
        migrations.AddConstraint(
            model_name='placement',
            constraint=models.CheckConstraint(condition=models.Q(('back_at__isnull', True), ('back_at__gte', models.F('left_at')), _connector='OR'), name='placement_ends_after_it_begins'),
        ),
        migrations.AddIndex(
            model_name='sale',
            index=models.Index(fields=['gallery', 'sold_at'], name='selling_sal_gallery_db7f65_idx'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('price_micro', django.db.models.functions.comparison.Cast('price_micro', models.BigIntegerField())), ('price_micro__gte', 1), ('price_micro__lte', 1000000000000000)), name='sale_price_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('tax_micro', django.db.models.functions.comparison.Cast('tax_micro', models.BigIntegerField())), ('tax_micro__gte', 0), ('tax_micro__lte', 1000000000000000)), name='sale_tax_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('share_ppm', django.db.models.functions.comparison.Cast('share_ppm', models.BigIntegerField())), ('share_ppm__gte', 0), ('share_ppm__lte', 1000000000000000)), name='sale_share_ppm_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('share_micro', django.db.models.functions.comparison.Cast('share_micro', models.BigIntegerField())), ('share_micro__gte', 0), ('share_micro__lte', 1000000000000000)), name='sale_share_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('card_fee_micro', django.db.models.functions.comparison.Cast('card_fee_micro', models.BigIntegerField())), ('card_fee_micro__gte', 0), ('card_fee_micro__lte', 1000000000000000)), name='sale_card_fee_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('other_cost_micro', django.db.models.functions.comparison.Cast('other_cost_micro', models.BigIntegerField())), ('other_cost_micro__gte', 0), ('other_cost_micro__lte', 1000000000000000)), name='sale_other_cost_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('deposit_used_micro', django.db.models.functions.comparison.Cast('deposit_used_micro', models.BigIntegerField())), ('deposit_used_micro__gte', 0), ('deposit_used_micro__lte', 1000000000000000)), name='sale_deposit_used_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('owed_micro', django.db.models.functions.comparison.Cast('owed_micro', models.BigIntegerField())), ('owed_micro__gte', 0), ('owed_micro__lte', 1000000000000000)), name='sale_owed_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('cost_micro', django.db.models.functions.comparison.Cast('cost_micro', models.BigIntegerField())), ('cost_micro__gte', 0), ('cost_micro__lte', 1000000000000000)), name='sale_cost_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('paid_out_micro', django.db.models.functions.comparison.Cast('paid_out_micro', models.BigIntegerField())), ('paid_out_micro__gte', 0), ('paid_out_micro__lte', 1000000000000000)), name='sale_paid_out_micro_whole'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.UniqueConstraint(condition=models.Q(('taken_back_at__isnull', True)), fields=('piece',), name='sale_sold_once'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('taken_back_at__isnull', True), ('taken_back_entry__isnull', True), ('taken_back_why', '')), models.Q(('taken_back_at__isnull', False), ('taken_back_entry__isnull', False), models.Q(('taken_back_why', ''), _negated=True)), _connector='OR'), name='sale_taken_back_says_why'),
        ),
        migrations.AddConstraint(
            model_name='sale',
            constraint=models.CheckConstraint(condition=models.Q(('owed_micro', 0), ('gallery__isnull', False), ('client__isnull', False), _connector='OR'), name='sale_somebody_owes'),
        ),
    ]
