//! The live screen: what a player reads from two metres away.
