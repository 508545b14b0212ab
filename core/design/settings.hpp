// What design takes for granted where the plan says nothing. Every use of one is written beside the proposal.
#pragma once

namespace phasewright::design {

struct Settings {
    // Hours of a year in which the least, the usual and the highest current flow, as shares. An assumption of
    // ours.
    double least_hours = 0.35;
    double usual_hours = 0.55;
    double most_hours = 0.10;
    double least_share = 0.1;       // of the usual current, where least_a is not said
    double usual_share = 0.4;       // of the breaker, where usual_a is not said
    double power_factor = 0.9;      // where it is not said
    double lead_m = 3.0;            // CT to meter, one way, within one panel
    double tap_m = 2.0;             // tap to meter
    double tap_to_fuse_m = 0.3;     // of it, in front of the fuse
    double between_meters_m = 0.5;  // of bus cable, within one panel
    double supply_margin = 1.25;    // common practice, no source
    double supply_drop_percent = 5.0;
    double fuse_margin = 1.25;        // over what flows in the tap for ever; common practice, no source
    double instrument_fuse_a = 15.0;  // NEC 408.52 (from memory): instruments behind 15 A at most
    double iec_run_m = 3.0;           // IEC 60364-4-43, 433.2.2 and 434.2.1 (from memory)
    double line_unit_loads =
        32.0;                   // MODBUS over Serial Line V1.02, clause 3.4: 32 devices without a repeater
    double line_m = 1000.0;     // the same, at 9600 bit/s or less; TIA-485-A has 1200 m at 90 kbit/s
    bool share_meters = false;  // take over the sharing of meters among one-phase circuits
    std::size_t others = 3;     // how many of those not chosen are named
};

}  // namespace phasewright::design
