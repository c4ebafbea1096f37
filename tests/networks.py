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
import io
import sys
import zipfile
from pathlib import Path

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


def pose_bundle(detector: bytes, landmarker: bytes) -> bytes:
    """The bundle that the Tasks interface wants: both networks with their normalisation."""
    from mediapipe.tasks.python.metadata.metadata_writers.metadata_writer import MetadataWriter

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for name, network, mean, deviation in (
            # The graphs in the same wheel map the detector's input to -1..1, the other's to 0..1.
            ("pose_detector.tflite", detector, 127.5, 127.5),
            ("pose_landmarks_detector.tflite", landmarker, 0.0, 255.0),
        ):
            writer = MetadataWriter.create(bytearray(network))
            writer.add_image_input([mean], [deviation])
            # A fixed date makes the bundle the same wherever it is built.
            archive.writestr(zipfile.ZipInfo(name), bytes(writer.populate()[0]))
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
