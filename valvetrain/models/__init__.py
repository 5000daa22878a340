"""What the upper floor keeps. Named here so that Django finds every table."""

from valvetrain.models.cam import CamCard
from valvetrain.models.heads import Head, HeadMaterial, Pad, Stand, Valve, ValveKind
from valvetrain.models.lobe import LobePoint, LobeTable
from valvetrain.models.moves import StandMove
from valvetrain.models.rockers import FitsValves, HeightGauge, RockerSet
from valvetrain.models.shims import FittedPack, FittedPiece, ShimStock
from valvetrain.models.springs import SpringSheet
from valvetrain.models.trials import Trial
from valvetrain.models.worksheet import MovingMasses, PistonSide, PushrodSide

__all__ = [
    "CamCard", "FitsValves", "FittedPack", "FittedPiece", "Head", "HeadMaterial", "HeightGauge", "LobePoint",
    "LobeTable", "MovingMasses", "Pad", "PistonSide", "PushrodSide", "RockerSet", "ShimStock", "SpringSheet", "Stand",
    "StandMove", "Trial", "Valve", "ValveKind",
]  # fmt: skip
