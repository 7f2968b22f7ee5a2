"""Every aircraft of the demo, one module for each customer's story."""

from reports.demo.stories.abroad import QX_115
from reports.demo.stories.charter import QX_107, QX_108
from reports.demo.stories.club import QX_105
from reports.demo.stories.club_slow import QX_104
from reports.demo.stories.disputed import QX_118
from reports.demo.stories.follow_up import QX_122
from reports.demo.stories.high_field import QX_109, QX_110, QX_124
from reports.demo.stories.log_only import QX_116, QX_121
from reports.demo.stories.owners import QX_101, QX_102, QX_103, QX_114
from reports.demo.stories.recorded import QX_111, QX_120
from reports.demo.stories.reopened import QX_117
from reports.demo.stories.school import QX_112, QX_113
from reports.demo.stories.shop_floor import BUILD_31, BUILD_33
from reports.demo.stories.twins import QX_106, QX_119, QX_123

AIRCRAFT = (
    QX_101, QX_102, QX_103, QX_104, QX_105, QX_106, QX_107, QX_108, QX_109, QX_110, QX_111, QX_112, QX_113, QX_114,
    QX_115, QX_116, QX_117, QX_118, QX_119, QX_120, QX_121, QX_122, QX_123, QX_124,
)  # fmt: skip
UNINSTALLED = (BUILD_31, BUILD_33)
