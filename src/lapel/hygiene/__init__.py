"""The science of one sample and one shift."""
