#include "core/readings/reading_set.hpp"

namespace phasewright::readings {

plan::ServiceModel model_of(ReadingSet const& set) {
    return set.own_model ? *set.own_model : plan::model_of(set.service, set.model_options);
}

}  // namespace phasewright::readings
