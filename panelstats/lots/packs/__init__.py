"""Will a charge of leaf fit its pack: chance of overflow and of slack, the window of density that is safe."""
