//! Support of flexible conduit whips, from what can be measured without opening anything.

use super::catalogue::Cite;
use super::outcome::settle;
use super::profile::Standard::Nec;
use crate::survey::units::Inches;

/// Liquidtight flexible metal conduit.
pub const METAL: Cite = Cite::published(Nec, "350.30(A)");
/// Liquidtight flexible nonmetallic conduit.
pub const NONMETALLIC: Cite = Cite::published(Nec, "356.30");

/// Longest unsecured length of a metal whip where it must flex, by trade size; none for a trade
/// size under 1/2 in, which the exception does not name.
pub fn longest_flexible_whip(trade_size: Inches) -> Option<Inches> {
    let size = trade_size.get();
    if size < 0.5 {
        None
    } else if size <= 1.25 {
        Some(Inches::of(36.0))
    } else if size <= 2.0 {
        Some(Inches::of(48.0))
    } else {
        Some(Inches::of(60.0))
    }
}

/// Whether a metal whip that must flex is short enough to go unsecured.
pub fn whip_within_limit(trade_size: Inches, unsecured: Inches) -> bool {
    longest_flexible_whip(trade_size).is_some_and(|most| settle(unsecured.get()) <= most.get())
}

/// Whether a metal run is supported within 12 in of its ends and every 54 in.
pub fn metal_supported(first: Inches, interval: Inches) -> bool {
    settle(first.get()) <= 12.0 && settle(interval.get()) <= 54.0
}

/// Whether a nonmetallic run is supported within 12 in of its ends and every 36 in.
pub fn nonmetallic_supported(first: Inches, interval: Inches) -> bool {
    settle(first.get()) <= 12.0 && settle(interval.get()) <= 36.0
}
