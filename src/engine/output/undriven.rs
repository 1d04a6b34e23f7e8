//! What the last settings drove and the present ones do not: it is put to rest once, or the
//! receiver would keep the last number for ever.

use super::midi1::{Listener, send};
use super::sender::Sender;
use super::sink::Sink;
use crate::layer::Layer;
use crate::patch::{Address, OUTPUTS_MAX};

/// An address that nothing drives any more.
#[derive(Clone, Copy, Debug, PartialEq)]
struct LeftAlone {
    layer: Layer,
    address: Address,
    rest: u16,
}

/// Addresses that wait to be put to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Undriven {
    left: [Option<LeftAlone>; OUTPUTS_MAX],
}

impl Undriven {
    /// Every address is driven.
    pub const NONE: Undriven = Undriven { left: [None; OUTPUTS_MAX] };

    /// Another address that nothing drives; where there is no more room, the first one stays.
    pub fn add(&mut self, layer: Layer, address: Address, rest: u16) {
        // The number of a sound has no rest, and velocity ends with its note.
        if matches!(address, Address::Program | Address::Velocity) {
            return;
        }
        if let Some(room) = self.left.iter_mut().find(|left| left.is_none()) {
            *room = Some(LeftAlone { layer, address, rest });
        }
    }

    /// Those of the settings before that the present ones do not drive either.
    pub fn keep(&mut self, before: &Undriven, is_driven: impl Fn(Address) -> bool) {
        for left in before.left.iter().flatten().filter(|left| !is_driven(left.address)) {
            self.add(left.layer, left.address, left.rest);
        }
    }

    /// Puts all of them to rest.
    pub fn put_to_rest(&mut self, listener: Listener, sender: &mut Sender<'_, impl Sink>) {
        for left in core::mem::replace(self, Undriven::NONE).left.into_iter().flatten() {
            send(left.layer, left.address, left.rest, None, listener, sender);
        }
    }
}
