//! What a phrase can mean. One phrase may mean several things ("clean" is a state and a task);
//! each kind of meaning has its own slot, and the grammar asks for the slot it needs.

use crate::survey::codes::{Action, Component, Condition, EquipmentKind, HazardKind, Severity};

/// A field that a value can be spoken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Field {
    Voltage,
    Phase,
    Hertz,
    Mca,
    Mocp,
    Model,
    Serial,
    Year,
    Refrigerant,
    Charge,
    Tons,
    GasInput,
    DisconnectRating,
    DisconnectVoltage,
    Distance,
    Fuse,
    Filters,
    Belts,
    Water,
    Membrane,
    Height,
    Access,
    /// A label that takes a number we do not keep, so that it lands nowhere else.
    Ignored,
}

impl Field {
    pub(crate) const ALL: [Field; 23] = [
        Field::Voltage,
        Field::Phase,
        Field::Hertz,
        Field::Mca,
        Field::Mocp,
        Field::Model,
        Field::Serial,
        Field::Year,
        Field::Refrigerant,
        Field::Charge,
        Field::Tons,
        Field::GasInput,
        Field::DisconnectRating,
        Field::DisconnectVoltage,
        Field::Distance,
        Field::Fuse,
        Field::Filters,
        Field::Belts,
        Field::Water,
        Field::Membrane,
        Field::Height,
        Field::Access,
        Field::Ignored,
    ];

    /// The dotted path, as in a fact.
    pub(crate) const fn path(self) -> &'static str {
        match self {
            Field::Voltage => "nameplate.voltage_v",
            Field::Phase => "nameplate.phase",
            Field::Hertz => "nameplate.hertz",
            Field::Mca => "nameplate.mca_a",
            Field::Mocp => "nameplate.mocp_a",
            Field::Model => "nameplate.model",
            Field::Serial => "nameplate.serial",
            Field::Year => "nameplate.manufactured_year",
            Field::Refrigerant => "nameplate.refrigerant",
            Field::Charge => "nameplate.charge_lb",
            Field::Tons => "nameplate.capacity_tons",
            Field::GasInput => "nameplate.gas_input_btuh",
            Field::DisconnectRating => "disconnect.rating_a",
            Field::DisconnectVoltage => "disconnect.voltage_v",
            Field::Distance => "disconnect.distance_ft",
            Field::Fuse => "disconnect.fuse_a",
            Field::Filters => "filters",
            Field::Belts => "belts",
            Field::Water => "site.water_source",
            Field::Membrane => "site.roof_membrane",
            Field::Height => "site.roof_height_ft",
            Field::Access => "site.access",
            Field::Ignored => "ignored",
        }
    }

    /// The field with this path.
    pub(crate) fn from_path(path: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|field| field.path() == path)
    }

    /// Whether it belongs to the building, whichever unit is being talked about.
    pub(crate) const fn of_site(self) -> bool {
        matches!(
            self,
            Field::Water | Field::Membrane | Field::Height | Field::Access
        )
    }

    /// Whether a unit can have several values of it.
    pub(crate) const fn many(self) -> bool {
        matches!(self, Field::Filters | Field::Belts)
    }
}

/// A unit of measure behind a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Measure {
    Amp,
    Volt,
    Hertz,
    Ton,
    Pound,
    Ounce,
    Btu,
    Mbh,
    Foot,
    Inch,
    /// A measure of something that no field holds: dollars, minutes, psi.
    Other,
}

impl Measure {
    pub(crate) fn from_code(code: &str) -> Option<Self> {
        Some(match code {
            "amp" => Self::Amp,
            "volt" => Self::Volt,
            "hertz" => Self::Hertz,
            "ton" => Self::Ton,
            "pound" => Self::Pound,
            "ounce" => Self::Ounce,
            "btu" => Self::Btu,
            "mbh" => Self::Mbh,
            "foot" => Self::Foot,
            "inch" => Self::Inch,
            "other" => Self::Other,
            _ => return None,
        })
    }
}

/// A part, or a general word for one that its neighbours decide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    /// One part.
    Known(Component),
    /// Index into the lexicon's heads.
    Head(u8),
}

macro_rules! roles {
    ($($name:ident = $word:literal,)*) => {
        /// What a word does in a sentence. The names are the keys of `speech.toml`.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[repr(u8)]
        pub(crate) enum Role { $($name,)* }


        impl Role {
            pub(crate) fn from_code(code: &str) -> Option<Self> {
                match code { $($word => Some(Role::$name),)* _ => None }
            }
        }
    };
}

roles! {
    Is = "is", ItIs = "its_is", It = "it", A = "a", And = "and", Or = "or", But = "but",
    There = "there", At = "at", Near = "near", Times = "times", Hedge = "hedge", No = "no",
    Need = "need", Plan = "plan", Past = "past", If = "if", Hearsay = "hearsay",
    Elsewhere = "elsewhere", Question = "question", Correct = "correct", Scratch = "scratch",
    FollowUp = "follow_up", This = "this", Next = "next", Back = "back", Previous = "previous",
    OtherOne = "other_one", Same = "same", SameWord = "same_word", All = "all", Both = "both",
    Except = "except", Newest = "newest", Oldest = "oldest", Site = "site", Access = "access",
    Height = "height", Quantity = "quantity", Pair = "pair", Spell = "spell", Dash = "dash",
    Slash = "slash", Filler = "filler", Danger = "danger_weight", Urgent = "urgent_weight",
    Repair = "repair_weight", Minor = "minor_weight", Note = "note_weight", Mute = "mute",
    Common = "common", Unit = "unit", Through = "through", NumberOnly = "number_only",
    Unread = "unread", ByUnit = "by_unit", Theirs = "theirs", Cage = "cage",
    Person = "person", Tells = "tells", Paper = "paper", Seen = "seen",
    Everything = "everything", Size = "size", Mine = "mine",
}

/// A set of roles.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Roles(u128);

impl Roles {
    pub(crate) fn has(self, role: Role) -> bool {
        self.0 & (1 << role as u8) != 0
    }
    pub(crate) fn add(&mut self, role: Role) {
        self.0 |= 1 << role as u8;
    }
    pub(crate) fn any(self, roles: &[Role]) -> bool {
        roles.iter().any(|role| self.has(*role))
    }
}

/// Everything that one phrase can mean.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Meaning {
    pub(crate) kind: Option<EquipmentKind>,
    pub(crate) part: Option<Part>,
    pub(crate) fault: Option<Condition>,
    pub(crate) say: Option<Action>,
    pub(crate) done: Option<Action>,
    pub(crate) danger: Option<HazardKind>,
    pub(crate) label: Option<Field>,
    pub(crate) measure: Option<Measure>,
    /// Field and index into the lexicon's named values.
    pub(crate) value: Option<(Field, u16)>,
    pub(crate) roles: Roles,
    /// A recogniser's mishearing: believed less.
    pub(crate) garbled: bool,
}

impl Meaning {
    /// Means something of the trade: a unit, a part, a condition, a label, a danger, work.
    pub(crate) fn of_trade(&self) -> bool {
        Self {
            roles: Roles::default(),
            garbled: false,
            ..*self
        } != Self::default()
    }

    /// The same, made out of words that are not quite those of the lexicon.
    pub(crate) fn as_garbled(self) -> Self {
        Self {
            garbled: true,
            ..self
        }
    }

    /// Only holds a sentence together.
    pub(crate) fn of_grammar(&self) -> bool {
        !self.of_trade() && self.roles != Roles::default() && !self.roles.has(Role::Common)
    }

    /// The severity that the words ask for.
    pub(crate) fn weight(&self) -> Option<Severity> {
        [
            (Role::Danger, Severity::Danger),
            (Role::Urgent, Severity::Urgent),
            (Role::Repair, Severity::Repair),
            (Role::Minor, Severity::Minor),
            (Role::Note, Severity::Note),
        ]
        .into_iter()
        .find_map(|(role, severity)| self.roles.has(role).then_some(severity))
    }
}
