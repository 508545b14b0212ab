#include "core/evidence/caution.hpp"

namespace phasewright::evidence {

namespace {
constexpr auto open_loop =
    "Never open the secondary of a 5 A or 1 A current transformer while current flows in its primary: it can "
    "reach "
    "kilovolts. Short it at the transformer's side first, see the current in the short, then open; restore "
    "in the "
    "reverse order.";
constexpr auto dead =
    "Only with the circuit switched off, locked and proved dead at the place of work by a contact tester "
    "that was "
    "tried on a known source before and after. A meter's display or a reading over the bus is no such proof.";
constexpr auto live =
    "The panel stays live. Work on or near live parts is for persons qualified and permitted, under the code "
    "of the "
    "place; leads and clips need the measurement category of the place as much as the instrument.";
constexpr auto takes_supply_off =
    "Somebody loses supply: agree on it with whoever is fed, ask what must not stop, and let a person "
    "permitted to "
    "switch do it.";
}  // namespace

std::vector<std::string> cautions_of(TestKind test) {
    switch (test) {
        case TestKind::comparison:
        case TestKind::ratio_by_clamps: return {live, open_loop};
        case TestKind::timing:
        case TestKind::register_advance:
        case TestKind::pulse_weight: return {live};
        case TestKind::ring_out:
        case TestKind::loop_resistance: return {dead, open_loop};
        case TestKind::insulation:
            return {
                dead,
                "The test voltage can destroy electronics and shock whoever touches the leads: take the "
                "meter, "
                "surge protection and every other electronic input off first, keep people away, discharge "
                "afterwards.",
                open_loop};
        case TestKind::battery_flick:
            return {dead,
                    "Breaking the battery's current gives a shock from the winding: hold no bare end. The "
                    "core may "
                    "stay magnetised: use a small battery, and demagnetise where the transformer's maker "
                    "asks for it.",
                    open_loop};
        case TestKind::one_earth:
            return {dead,
                    "A secondary without its earth can float to the primary's voltage: lift the earth only "
                    "with the "
                    "primary dead, and put it back before anything is energised.",
                    open_loop};
        case TestKind::ratio_by_injection:
            return {dead, "Injected currents heat and pull: follow the injection set's own instructions.",
                    open_loop};
        case TestKind::no_load:
        case TestKind::starting_current: return {live, open_loop};
        case TestKind::meter_exchange:
            return {live, open_loop,
                    "A seal belongs to whoever fitted it: break it only with their permission, and write its "
                    "number "
                    "down."};
        case TestKind::switching:
            return {takes_supply_off, live,
                    "A breaker that is off, and a meter that shows nothing, are no proof that a circuit is "
                    "dead."};
    }
    return {};
}

}  // namespace phasewright::evidence
