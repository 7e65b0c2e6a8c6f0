// The colors of a map, as they are: what the scale beside the picture says.
#import bevy_pbr::forward_io::VertexOutput

@group(#{MATERIAL_BIND_GROUP}) @binding(0) var map: texture_2d<f32>;
@group(#{MATERIAL_BIND_GROUP}) @binding(1) var patch_by_patch: sampler;

@fragment
fn fragment(in: VertexOutput) -> @location(0) vec4<f32> {
#ifdef VERTEX_UVS_A
    return textureSample(map, patch_by_patch, in.uv);
#else
    return vec4<f32>(1.0);
#endif
}
