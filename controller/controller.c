/* controller: being built. */
typedef int dt_controller_being_built;
