//! What the last settings drove and the present ones do not: it is put to rest once, or the
//! receiver would keep the last number for ever.

use super::address::send;
use super::event::{Layer, Sink};
use super::moment::Moment;
use super::patch::{Address, OUTPUTS_MAX};
use super::wire::Way;

/// An address that nothing drives any more.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Left {
    layer: Layer,
    address: Address,
    rest: u16,
}

/// Addresses that wait to be put to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Abandoned {
    left: [Option<Left>; OUTPUTS_MAX],
}

impl Abandoned {
    /// Every address is driven.
    pub const NONE: Abandoned = Abandoned { left: [None; OUTPUTS_MAX] };

    /// Another address that nothing drives; where there is no more room, the first one stays.
    pub fn add(&mut self, layer: Layer, address: Address, rest: u16) {
        // The number of a sound has no rest, and velocity ends with its note.
        if matches!(address, Address::Program | Address::Velocity) {
            return;
        }
        if let Some(room) = self.left.iter_mut().find(|left| left.is_none()) {
            *room = Some(Left { layer, address, rest });
        }
    }

    /// Those of the settings before that the present ones do not drive either.
    pub fn keep(&mut self, before: &Abandoned, is_driven: impl Fn(Address) -> bool) {
        for left in before.left.iter().flatten().filter(|left| !is_driven(left.address)) {
            self.add(left.layer, left.address, left.rest);
        }
    }

    /// Puts all of them to rest.
    pub fn put_to_rest(&mut self, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        for left in core::mem::replace(self, Abandoned::NONE).left.into_iter().flatten() {
            send(left.layer, left.address, left.rest, None, values, way);
        }
    }
}
