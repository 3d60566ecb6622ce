"""The room as a model for whoever goes on with it in other programs: GLB, OBJ, PLY, STL."""

from viewer.models.modelfile import MODEL_FORMATS, model_bytes
from viewer.models.parts import Part, model_parts

__all__ = ["MODEL_FORMATS", "Part", "model_bytes", "model_parts"]
