"""Adapting the embedded recogniser's encoder to a workshop: data, training, weights.

Needs the extra `adapt` (PyTorch, onnx). Users of the program need none of it: what it makes is a
file of weights in the package.
"""
