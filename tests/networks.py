"""The networks that come with the program, made again from the wheel that they are in.

    pip download --no-deps --only-binary=:all: --python-version 3.11 \\
        --platform manylinux_2_28_x86_64 mediapipe==0.10.21
    python -m tests.networks mediapipe-0.10.21-*.whl            # compares
    python -m tests.networks mediapipe-0.10.21-*.whl --write    # writes them anew

The same bytes come out wherever it runs. What is changed of each network is told in `NOTICE`; their
weights are those of the wheel.
"""

from __future__ import annotations

import argparse
import importlib.util
import io
import sys
import zipfile
import zipimport
from pathlib import Path
from typing import Any

import flatbuffers
from ai_edge_litert import schema_py_generated as schema

from assist.pose import networks

FOLDER = Path(networks.__file__).parent
INSIDE = "mediapipe/modules/"
_IDENTIFIER = b"TFL3"


def _unpacked(network: bytes) -> schema.ModelT:
    return schema.ModelT.InitFromObj(schema.Model.GetRootAsModel(bytearray(network), 0))


def _packed(model: schema.ModelT) -> bytes:
    builder = flatbuffers.Builder(1 << 23)
    builder.Finish(model.Pack(builder), _IDENTIFIER)
    return bytes(builder.Output())


def face_mesh(network: bytes) -> bytes:
    """The face mesh with its first output, 468 points, and its last, whether it is a face.

    What only the others need, the finer lips, eyes and irises, is left out, and with it the
    operations that only one runtime knows.
    """
    model = _unpacked(network)
    (graph,) = model.subgraphs
    graph.outputs = [int(graph.outputs[0]), int(graph.outputs[-1])]
    needed, kept = set(graph.outputs), []
    for operator in reversed(graph.operators):
        if needed & {int(tensor) for tensor in operator.outputs}:
            kept.append(operator)
            needed |= {int(tensor) for tensor in operator.inputs}
    graph.operators = kept[::-1]
    used = {graph.tensors[tensor].buffer for tensor in needed if tensor >= 0}
    for number, buffer in enumerate(model.buffers):
        if number not in used:
            buffer.data = None
    model.signatureDefs = []
    return _packed(model)


def _module_of(wheel: Path, name: str) -> Any:
    found = zipimport.zipimporter(f"{wheel}/mediapipe/tasks/metadata").find_spec(name)
    assert found is not None and found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def with_normalisation(network: bytes, mean: float, deviation: float, wheel: Path) -> bytes:
    """The network with the note that the Tasks interface wants: how its picture is normalised.

    Told in the wheel's own formats: those of a later release pack the same content differently.
    """
    notes = _module_of(wheel, "metadata_schema_py_generated")
    networks_format = _module_of(wheel, "schema_py_generated")
    model = networks_format.ModelT.InitFromObj(
        networks_format.Model.GetRootAsModel(bytearray(network), 0)
    )
    (graph,) = model.subgraphs
    picture = notes.TensorMetadataT()
    picture.name, picture.description = "image", "Input image to be processed."
    picture.content = notes.ContentT()
    picture.content.contentPropertiesType = notes.ContentProperties.ImageProperties
    picture.content.contentProperties = notes.ImagePropertiesT()
    picture.content.contentProperties.colorSpace = notes.ColorSpaceType.RGB
    step = notes.ProcessUnitT()
    step.optionsType = notes.ProcessUnitOptions.NormalizationOptions
    step.options = notes.NormalizationOptionsT()
    step.options.mean, step.options.std = [mean], [deviation]
    picture.processUnits = [step]
    picture.stats = notes.StatsT()
    picture.stats.min, picture.stats.max = [(0.0 - mean) / deviation], [(255.0 - mean) / deviation]
    output = notes.TensorMetadataT()
    output.name = graph.tensors[graph.outputs[0]].name
    whole, inner = notes.ModelMetadataT(), notes.SubGraphMetadataT()
    inner.inputTensorMetadata = [picture]
    inner.outputTensorMetadata = [output] * len(graph.outputs)
    whole.subgraphMetadata, whole.minParserVersion = [inner], "1.0.0"

    note = flatbuffers.Builder(0)
    note.Finish(whole.Pack(note), b"M001")
    held = networks_format.BufferT()
    held.data = note.Output()
    for named in model.metadata:
        if named.name == b"TFLITE_METADATA":
            model.buffers[named.buffer] = held
            break
    else:
        named = networks_format.MetadataT()
        named.name, named.buffer = "TFLITE_METADATA", len(model.buffers)
        model.buffers.append(held)
        model.metadata.append(named)
    builder = flatbuffers.Builder(0)
    builder.Finish(model.Pack(builder), _IDENTIFIER)
    # As the library's writer ends it: an archive of no files, in which its label files would lie.
    whole_file = io.BytesIO(builder.Output())
    zipfile.ZipFile(whole_file, "a").close()
    return whole_file.getvalue()


def pose_bundle(detector: bytes, landmarker: bytes, wheel: Path) -> bytes:
    """The bundle that the Tasks interface wants: both networks with their normalisation."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for name, network, mean, deviation in (
            # The graphs in the same wheel map the detector's input to -1..1, the other's to 0..1.
            ("pose_detector.tflite", detector, 127.5, 127.5),
            ("pose_landmarks_detector.tflite", landmarker, 0.0, 255.0),
        ):
            # A fixed date makes the bundle the same wherever it is built.
            archive.writestr(
                zipfile.ZipInfo(name), with_normalisation(network, mean, deviation, wheel)
            )
    return packed.getvalue()


def rebuilt(wheel: Path) -> dict[str, bytes]:
    """The files of the package, by name, from the wheel."""
    with zipfile.ZipFile(wheel) as archive:

        def inside(name: str) -> bytes:
            return archive.read(INSIDE + name)

        return {
            "pose.task": pose_bundle(
                inside("pose_detection/pose_detection.tflite"),
                inside("pose_landmark/pose_landmark_full.tflite"),
                wheel,
            ),
            "face_detector.tflite": inside("face_detection/face_detection_short_range.tflite"),
            "face_mesh.tflite": face_mesh(
                inside("face_landmark/face_landmark_with_attention.tflite")
            ),
        }  # fmt: skip


def main() -> None:
    """Compare or write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("wheel", type=Path)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    differ = []
    for name, content in rebuilt(options.wheel).items():
        file = FOLDER / name
        if options.write:
            file.write_bytes(content)
        elif file.read_bytes() != content:
            differ.append(name)
        print(f"{networks.digest(content)}  {name}")
    if differ:
        sys.exit(f"not the same: {', '.join(differ)}")


if __name__ == "__main__":
    main()
