"""Questions of the page about the board that is shown."""

from sigsim.live.questions.details import details as details
from sigsim.live.questions.gaps import gaps as gaps
from sigsim.live.questions.listening import listen as listen
from sigsim.live.questions.losses import CancelledError as CancelledError
from sigsim.live.questions.panels import PANELS as PANELS
from sigsim.live.questions.panels import panel as panel
from sigsim.live.questions.panels import sheet as sheet
from sigsim.live.questions.parts import parts_list as parts_list
from sigsim.live.questions.starting import new_board as new_board
from sigsim.live.questions.worth import worth as worth
