"""The science of a group: arrays in, arrays out; nothing of ours imported."""
